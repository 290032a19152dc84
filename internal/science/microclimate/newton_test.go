package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A step towards the balance stops at the freezing point where there is water to
// freeze, and nowhere else.
func TestAStepStopsWhereWaterFreezes(t *testing.T) {
	for _, c := range []struct {
		from, step, latent, want float64
	}{
		{-1, 2, 5, -0.1}, {1, -2, 5, -0.1}, {-1, 0.5, 5, -0.5}, {1, 0.5, 5, 1.5}, {-0.1, -2, 5, -2.1}, {-0.1, 2, 5, 1.9}, {-1, 2, 0, 1},
	} {
		n := node{t: c.from, medium: medium{point: -0.1, latent: c.latent}}
		assert.InDelta(t, c.want, n.moved(c.step), 1e-12, "%v by %v, latent heat %v", c.from, c.step, c.latent)
	}
}
