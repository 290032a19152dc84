package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

func TestNightTrend(t *testing.T) {
	// The same manual, trend example: T2 0.95, minimum -5.45, 15 h.
	for _, r := range []struct{ i, t float64 }{{3, -0.825}, {5, -2.124}, {10, -4.071}, {15, -5.450}} {
		assert.InDelta(t, r.t, float64(NightTrend(0.95, -5.45, r.i, 15)), 0.001)
	}
	assert.Equal(t, unit.Celsius(0.95), NightTrend(0.95, -5.45, 1, 15), "before it begins")
	assert.Equal(t, unit.Celsius(-5.45), NightTrend(0.95, -5.45, 20, 15), "never below the minimum")
	assert.Equal(t, unit.Celsius(0.95), NightTrend(0.95, -5.45, 5, 1), "a night too short for it")
}
