// Package serving owns a server at work on a listener: it begins once and ends
// once, whoever asks for the end, how often, and whether or not the server has
// come to serve by then. Servers of the libraries leave that to the caller: one
// of them panics when two goroutines close it at the same time, and one that is
// closed before it serves does not close its listener.
package serving

import (
	"errors"
	"net"
	"net/http"
	"sync"
)

// Server is what the HTTP and the mail server have in common.
type Server interface {
	Serve(net.Listener) error
	Close() error
}

// Running is a server at work.
type Running struct {
	addr  net.Addr
	ended chan struct{}
	err   error // of Serve; to be read when ended is closed
	close func() error
}

// Start lets a server serve on a listener, which belongs to it from then on. The
// server itself must not be closed by anybody else; asking it to finish what it
// has in hand (http.Server.Shutdown) is fine.
func Start(l net.Listener, s Server) *Running {
	r := &Running{addr: l.Addr(), ended: make(chan struct{})}
	r.close = sync.OnceValue(func() error {
		// The server first, so that it knows why its listener has gone.
		err := errors.Join(unlessClosed(s.Close()), unlessClosed(l.Close()))
		<-r.ended
		return err
	})
	go func() {
		defer close(r.ended)
		r.err = unlessClosed(s.Serve(l))
	}()
	return r
}

// Addr is where it listens.
func (r *Running) Addr() net.Addr { return r.addr }

// Close ends the server and its listener and returns when it serves no more.
// Every call gives the same error.
func (r *Running) Close() error { return r.close() }

// Ended is closed when it serves no more.
func (r *Running) Ended() <-chan struct{} { return r.ended }

// Err waits until it serves no more and says why; nil: it was closed.
func (r *Running) Err() error {
	<-r.ended
	return r.err
}

// unlessClosed drops the errors that only say that somebody closed.
func unlessClosed(err error) error {
	if errors.Is(err, net.ErrClosed) || errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}
