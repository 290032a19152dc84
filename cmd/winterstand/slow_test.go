package main

import (
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// slow is a line on which everything takes a while, so that a kill falls into
// the middle of things: between what a server took and what the sender knows.
type slow struct {
	most time.Duration // of one delay

	mu   sync.Mutex
	held chan struct{} // not nil: nothing passes until it is closed
}

// hold lets nothing pass until the given function is called.
func (s *slow) hold() (release func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	held := make(chan struct{})
	s.held = held
	return func() { close(held) }
}

func (s *slow) wait() {
	s.mu.Lock()
	held := s.held
	s.mu.Unlock()
	if held != nil {
		<-held
	}
	if s.most > 0 {
		time.Sleep(rand.N(s.most))
	}
}

// gateway stands before a text gateway: it waits before it passes a request on,
// and before it gives the answer back.
func (s *slow) gateway(t *testing.T, behind string) string {
	t.Helper()
	u, err := url.Parse(behind)
	require.NoError(t, err)
	proxy := &httputil.ReverseProxy{
		Rewrite:        func(r *httputil.ProxyRequest) { s.wait(); r.Out.URL.Scheme, r.Out.URL.Host = u.Scheme, u.Host },
		ModifyResponse: func(*http.Response) error { s.wait(); return nil },
		ErrorHandler:   func(w http.ResponseWriter, _ *http.Request, _ error) { w.WriteHeader(http.StatusBadGateway) },
	}
	front := httptest.NewServer(proxy)
	t.Cleanup(front.Close)
	return front.URL + u.Path
}

// mail stands before a mail server and holds back each of its answers; it gives
// the port.
func (s *slow) mail(t *testing.T, behind string) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go s.relay(c, behind)
		}
	}()
	return l.Addr().(*net.TCPAddr).Port
}

func (s *slow) relay(client net.Conn, behind string) {
	defer client.Close()
	server, err := net.Dial("tcp", behind)
	if err != nil {
		return
	}
	defer server.Close()
	go func() {
		_, _ = io.Copy(server, client)
		server.Close() // the sender is gone
	}()
	answer := make([]byte, 4096)
	for {
		n, err := server.Read(answer)
		if err != nil {
			return
		}
		s.wait()
		if _, err := client.Write(answer[:n]); err != nil {
			return
		}
	}
}
