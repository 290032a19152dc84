package serving

import (
	"errors"
	"net"
	"net/http"
	"sync"
	"testing"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// servers are the libraries' own.
var servers = map[string]func() Server{
	"http": func() Server { return &http.Server{Handler: http.NotFoundHandler()} },
	"smtp": func() Server { return smtp.NewServer(nil) },
}

func listen(t *testing.T) net.Listener {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	return l
}

// free: nobody listens on an address any more.
func free(t *testing.T, at net.Addr) {
	t.Helper()
	l, err := net.Listen("tcp", at.String())
	require.NoError(t, err)
	require.NoError(t, l.Close())
}

// Many goroutines close the server at the moment it begins: it ends once and
// each of them returns after that end.
func TestClosedByManyAtTheMomentItBegins(t *testing.T) {
	for name, made := range servers {
		t.Run(name, func(t *testing.T) {
			for range 50 {
				r := Start(listen(t), made())
				var all sync.WaitGroup
				for range 8 {
					all.Go(func() {
						assert.NoError(t, r.Close())
						select {
						case <-r.Ended():
						default:
							assert.Fail(t, "it still serves")
						}
					})
				}
				all.Wait()
				require.NoError(t, r.Err())
				free(t, r.Addr())
			}
		})
	}
}

func TestClosedAgainLater(t *testing.T) {
	for name, made := range servers {
		t.Run(name, func(t *testing.T) {
			r := Start(listen(t), made())
			for range 3 {
				require.NoError(t, r.Close())
			}
			require.NoError(t, r.Err())
		})
	}
}

// late serves only when the test lets it.
type late struct {
	Server
	begin chan struct{}
}

func (l late) Serve(on net.Listener) error {
	<-l.begin
	return l.Server.Serve(on)
}

// The libraries' servers do not know a listener that they have not begun to serve.
func TestClosedBeforeItServes(t *testing.T) {
	for name, made := range servers {
		t.Run(name, func(t *testing.T) {
			s := late{made(), make(chan struct{})}
			r := Start(listen(t), s)
			closed := make(chan error)
			go func() { closed <- r.Close() }()
			for { // until the listener has gone
				c, err := net.Dial("tcp", r.Addr().String())
				if err != nil {
					break
				}
				require.NoError(t, c.Close())
			}
			close(s.begin)
			require.NoError(t, <-closed)
			require.NoError(t, r.Err())
		})
	}
}

// broken cannot serve and cannot be closed.
type broken struct{}

var errServe, errClose = errors.New("cannot serve"), errors.New("cannot close")

func (broken) Serve(net.Listener) error { return errServe }
func (broken) Close() error             { return errClose }

func TestWhatWentWrongIsSaid(t *testing.T) {
	r := Start(listen(t), broken{})
	require.ErrorIs(t, r.Err(), errServe)
	for range 2 {
		require.ErrorIs(t, r.Close(), errClose)
	}
	free(t, r.Addr())
}
