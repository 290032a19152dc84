package email

import (
	"context"
	"net"
	"sync"
)

// line holds the connection of one delivery, so that it is closed on every way
// out, also where the library gives up half-way through the greeting.
type line struct {
	mu   sync.Mutex
	conn net.Conn
	down bool
}

type dialer func(ctx context.Context, network, address string) (net.Conn, error)

func (l *line) through(dial dialer) func(context.Context, string, string) (net.Conn, error) {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		conn, err := dial(ctx, network, address)
		if err != nil {
			return nil, err
		}
		l.mu.Lock()
		defer l.mu.Unlock()
		l.conn = conn
		if l.down {
			_ = conn.Close()
		}
		return conn, nil
	}
}

func (l *line) hangUp() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.down = true
	if l.conn != nil {
		_ = l.conn.Close()
	}
}
