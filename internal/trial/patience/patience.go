// Package patience waits in tests, and is the only place where a test may. A
// wait ends when what is waited for is there; its bound is only there so that a
// test which waits for nothing ends with a word instead of hanging, and is so
// generous that a busy machine does not meet it. Tests only.
package patience

import (
	"context"
	"fmt"
	"testing"
	"time"
)

// Bound of one wait. Own default: the longest wait of the tests that is known,
// for the next leader after one that was killed, takes some 30 s.
const Bound = 4 * time.Minute

// Between two looks, at first and at last.
const (
	first = time.Millisecond
	last  = 100 * time.Millisecond
)

// Until looks again and again, in the test's own goroutine, until done says
// true. After the bound the test fails and says what was waited for.
func Until(t testing.TB, done func() bool, what string, args ...any) {
	t.Helper()
	if !until(done, time.Now().Add(Bound)) {
		t.Fatalf("waited %s in vain: %s", Bound, fmt.Sprintf(what, args...))
	}
}

func until(done func() bool, end time.Time) bool {
	for wait := first; !done(); wait = min(2*wait, last) {
		if time.Now().After(end) {
			return false
		}
		time.Sleep(wait)
	}
	return true
}

// For gives what comes from a channel; the zero value where it was closed. After
// the bound the test fails and says what was waited for.
func For[T any](t testing.TB, c <-chan T, what string, args ...any) T {
	t.Helper()
	bound := time.NewTimer(Bound)
	defer bound.Stop()
	select {
	case v := <-c:
		return v
	case <-bound.C:
		t.Fatalf("waited %s in vain: %s", Bound, fmt.Sprintf(what, args...))
	}
	panic("not reached: Fatalf ends the test")
}

// Context of one test's work with something outside it, such as a browser or
// another program. It ends with the test, or after so many bounds with a cause
// that says what took so long.
func Context(t testing.TB, bounds int, what string) context.Context {
	return Within(t, context.WithoutCancel(t.Context()), bounds, what)
}

// Within is Context for work that has a context already.
func Within(t testing.TB, ctx context.Context, bounds int, what string) context.Context {
	t.Helper()
	d := time.Duration(bounds) * Bound
	ctx, stop := context.WithTimeoutCause(ctx, d, fmt.Errorf("%s was not done after %s", what, d))
	t.Cleanup(stop)
	return ctx
}
