package verdict

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
)

func TestNothingLearnedChangesNothing(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var v Verified
		lead := rapid.IntRange(-3, 40).Draw(r, "lead")
		low := unit.Celsius(rapid.Float64Range(-40, 30).Draw(r, "low"))
		usual := unit.Celsius(rapid.Float64Range(-20, 20).Draw(r, "usual"))
		assert.InDelta(r, float64(low), float64(v.Expect(lead, low, usual)), 1e-9)
		assert.InDelta(r, 1, v.Ratio(lead), 1e-12)
	})
}

// A forecast that is what will come plus an error of its own swings too far: the
// best line through what came has slope s²/(s²+σ²) and leaves σ·√slope (ordinary
// least squares on normal variables).
func TestAForecastThatSwingsTooFarIsDrawnIn(t *testing.T) {
	const s, sigma, bias = 5.0, 3.0, -1.5
	rng := rand.New(rand.NewPCG(1, 1))
	var v Verified
	for range 20000 {
		came := s * rng.NormFloat64()
		v.Learn(4, unit.Celsius(2+came+sigma*rng.NormFloat64()+bias), unit.Celsius(2+came), 2)
	}
	slope := s * s / (s*s + sigma*sigma)
	assert.InDelta(t, 2+slope*(-8-bias), float64(v.Expect(4, 2-8, 2)), 0.2, "8 K under the usual was issued")
	assert.InDelta(t, sigma*math.Sqrt(slope)/leadSigma[3], v.Ratio(4), 0.02)
	assert.InDelta(t, -6, float64(v.Expect(5, -6, 2)), 1e-9, "another lead has learned nothing")
}

func TestAMonthOfNightsCountsHalf(t *testing.T) {
	var v Verified
	for i := range priorNights {
		x := unit.Celsius(10*(i%2) - 5)
		v.Learn(1, x+2, x, 0) // always issued 2 K too warm
	}
	assert.InDelta(t, -1, float64(v.Expect(1, 0, 0)), 0.1)
}

func TestWhatIsNoTemperatureIsNotLearned(t *testing.T) {
	var v Verified
	v.Learn(1, unit.Celsius(math.NaN()), 1, 1)
	v.Learn(1, 1, unit.Celsius(math.Inf(-1)), 1)
	v.Learn(0, 1, 5, 1)
	v.Learn(11, 1, 5, 1)
	assert.Equal(t, Verified{}, v)
}
