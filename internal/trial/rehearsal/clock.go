package rehearsal

import (
	"sync"
	"time"
)

// Clock is the time of the rehearsal: it stands until it is moved, or runs so
// many times faster than the wall.
type Clock struct {
	mu    sync.Mutex
	at    time.Time
	since time.Time // wall time at which it was at; zero: it stands
	speed float64
}

// NewClock stands at a moment.
func NewClock(at time.Time) *Clock { return &Clock{at: at.UTC()} }

// Now is the rehearsal's time.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now()
}

func (c *Clock) now() time.Time {
	if c.since.IsZero() {
		return c.at
	}
	return c.at.Add(time.Duration(float64(time.Since(c.since)) * c.speed))
}

// Set moves the clock.
func (c *Clock) Set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at.UTC()
	if !c.since.IsZero() {
		c.since = time.Now()
	}
}

// Go lets the clock run from now on.
func (c *Clock) Go(speed float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.now()
	c.since, c.speed = time.Now(), speed
}
