package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

// Ten frost nights: Snyder & de Melo-Abreu 2005, FAO Environment and Natural
// Resources Series 10, vol. 1, the worked example of the prediction chapter.
var (
	fao0   = []unit.Celsius{3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6}
	faoDew = []unit.Celsius{-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1}
	faoMin = []unit.Celsius{-3.1, -5, -6.3, -5.4, -4, -2.5, -4.8, -5, -4.4, -3.3}
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
