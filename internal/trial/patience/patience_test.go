package patience

import (
	"context"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
)

// recorder is a test that only notes how it failed.
type recorder struct {
	testing.TB
	said string
}

func (r *recorder) Helper() {}

func (r *recorder) Fatalf(format string, args ...any) {
	r.said = fmt.Sprintf(format, args...)
	panic(r)
}

// failure runs what must fail, and gives how.
func failure(run func(t testing.TB)) (said string) {
	r := &recorder{}
	defer func() {
		if recover() == r {
			said = r.said
		}
	}()
	run(r)
	return ""
}

func TestUntilItIsThere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		at := time.Now().Add(Bound - time.Second)
		Until(t, func() bool { return !time.Now().Before(at) }, "a moment")
	})
}

func TestNotForEver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		assert.Equal(t, "waited 4m0s in vain: mail to Ann", failure(func(t testing.TB) {
			Until(t, func() bool { return false }, "mail to %s", "Ann")
		}))
		assert.Equal(t, "waited 4m0s in vain: the end of 7", failure(func(t testing.TB) {
			For(t, make(chan int), "the end of %d", 7)
		}))
		assert.InDelta(t, 2*Bound, time.Since(began), float64(time.Second), "by the bubble's clock")
	})
}

func TestForWhatComes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := make(chan int)
		time.AfterFunc(time.Second, func() { c <- 7 })
		assert.Equal(t, 7, For(t, c, "seven"))
		close(c)
		assert.Zero(t, For(t, c, "the end"))
	})
}

func TestAContextSaysWhatTookSoLong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx := Context(t, 2, "the browser")
		<-ctx.Done()
		assert.EqualError(t, context.Cause(ctx), "the browser was not done after 8m0s")
	})
}
