package fetch

import (
	"context"
	"errors"
	"sync"
	"time"

	"winterstand/internal/forecast"
)

// Back-off after repeated failures of one address, and how many failures in a
// row, whatever the address, close a host for the longest wait. NWS has had
// single cells fail for days while the rest was well, so one address alone must
// not close its host. Own defaults.
var backOff = []time.Duration{5 * time.Second, 30 * time.Second, 2 * time.Minute, 10 * time.Minute}

const (
	trips         = 5
	rememberedMax = 1000 // addresses; beyond it the oldest wait is irrelevant and all are forgotten
)

// gates holds the state per host.
type gates struct {
	mu    sync.Mutex
	hosts map[string]*gate
}

func (g *gates) of(host string) *gate {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.hosts == nil {
		g.hosts = map[string]*gate{}
	}
	if g.hosts[host] == nil {
		g.hosts[host] = &gate{turn: make(chan struct{}, 1), addresses: map[string]wait{}}
	}
	return g.hosts[host]
}

// gate lets one request at a time through to a host and none while the host
// has asked for quiet or fails. Its fields belong to whoever is inside.
type gate struct {
	turn      chan struct{}
	addresses map[string]wait
	inRow     int    // failures since the last success
	shut      *Error // why nothing goes through until its RetryAfter
}

type wait struct {
	failures int
	until    time.Time
	last     *Error
}

func (g *gate) enter(ctx context.Context) error {
	select {
	case g.turn <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (g *gate) leave() { <-g.turn }

// closed gives the error that still stands, without a request.
func (g *gate) closed(address string, now time.Time) error {
	if g.shut != nil && now.Before(g.shut.RetryAfter) {
		return standing(g.shut, address)
	}
	if w := g.addresses[address]; now.Before(w.until) {
		return standing(w.last, address)
	}
	return nil
}

func standing(e *Error, address string) error {
	c := *e
	c.URL = address
	c.Reason = "not asked, the last answer still stands: " + c.Reason
	return &c
}

// note takes in how a request went and gives the error with its RetryAfter.
func (g *gate) note(address string, err error, now time.Time) error {
	var e *Error
	if !errors.As(err, &e) {
		g.inRow, g.shut = 0, nil
		delete(g.addresses, address)
		return err
	}
	switch e.Kind {
	case forecast.ErrRefused, forecast.ErrLimited:
		g.shut = e
	case forecast.ErrUnavailable:
		g.failed(address, e, now)
	default:
		g.inRow, g.shut = 0, nil
	}
	return e
}

func (g *gate) failed(address string, e *Error, now time.Time) {
	if len(g.addresses) >= rememberedMax {
		clear(g.addresses)
	}
	w := g.addresses[address]
	if pause := now.Add(backOff[min(w.failures, len(backOff)-1)]); e.RetryAfter.Before(pause) {
		e.RetryAfter = pause
	}
	g.addresses[address] = wait{failures: w.failures + 1, until: e.RetryAfter, last: e}
	if g.inRow++; g.inRow >= trips {
		e.RetryAfter = later(e.RetryAfter, now.Add(backOff[len(backOff)-1]))
		g.shut = e
	}
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
