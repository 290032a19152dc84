package hardiness

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

// FROSTOL's logistic (Bergjord et al. 2008), its KILLCF 1.019; the rows are
// computed from 1/(1+exp(x/1.019)).
func TestInjuryFollowsFROSTOLsLogistic(t *testing.T) {
	for _, c := range []struct{ above, want float64 }{{-2, 0.8768}, {-1, 0.7274}, {0, 0.5}, {1, 0.2726}, {2, 0.1232}} {
		assert.InDelta(t, c.want, Injury(unit.Celsius(-10+c.above), -10, 1.019), 1e-4, "%+g K from LT50", c.above)
	}
}

// The 5–95 % band of that logistic is ±3.00 K; beyond it the ends are cut.
func TestInjuryIsCutAtFiveAndNinetyFivePercent(t *testing.T) {
	assert.InDelta(t, 0.05, Injury(-7.0005, -10, 1.019), 1e-3)
	assert.Zero(t, Injury(-6.99, -10, 1.019))
	assert.InDelta(t, 0.95, Injury(-12.999, -10, 1.019), 1e-3)
	assert.Equal(t, 1.0, Injury(-13.01, -10, 1.019))
	assert.Zero(t, Injury(0, 5, 1), "nothing freezes at 0 °C")
}

// Nights 1 K above LT50, each its own event: 1 − (1−0.2726)^n, computed.
func TestNightsMultiply(t *testing.T) {
	p := bare(-10, -10, -10, 0, 1, 1.019)
	s := Start(p.Hardening, -10)
	s = advance(t, p, s, hold(1, -9).then(hold(3, 1)))
	assert.InDelta(t, 0.2726, 1-s.Survival, 1e-4)
	s = advance(t, p, s, hold(1, -9).then(hold(3, 1)))
	assert.InDelta(t, 0.4709, 1-s.Survival, 1e-4)
	s = advance(t, p, s, hold(5, -9))
	assert.InDelta(t, 0.6152, 1-s.Survival, 1e-4)
}

func TestOnlyTheDeepestOfAnEventCounts(t *testing.T) {
	p := bare(-10, -10, -10, 0, 1, 1)
	at := Injury(-10, -10, 1)
	for _, c := range []struct {
		why   string
		frost course
		left  float64
	}{
		{"one hour at LT50", hold(1, -10), 1 - at},
		{"down in steps to LT50 is the same", course{-8, -9, -9.5, -10}, 1 - at},
		{"up and down again, no deeper", course{-10, -3, -9, -4, -10}, 1 - at},
		{"two hours of thaw do not end it", course{-10, 1, 1, -10}, 1 - at},
		{"an hour at 0 °C breaks the count", course{-10, 1, 1, 0, 1, 1, -10}, 1 - at},
		{"three hours of thaw end it", course{-10, 1, 1, 1, -10}, (1 - at) * (1 - at)},
		{"all dead stays dead", course{-20, 5, 5, 5, 5, -1}, 0},
	} {
		s := advance(t, p, Start(p.Hardening, -10), c.frost)
		assert.InDelta(t, c.left, s.Survival, 1e-12, c.why)
	}
}

// A frost that takes half of the organ takes 1.25 K of hardiness, 2.5 K times
// what was killed (own default after Gusta & Fowler 1977: about 5 K in two
// cycles), and never more than there is.
func TestAFreezeCostsHardiness(t *testing.T) {
	p := bare(-5, -9, -13, 0, 1, 1)
	assert.InDelta(t, -8.75, float64(advance(t, p, Start(p.Hardening, -10), hold(1, -10)).LT50), 1e-12)
	assert.InDelta(t, -5, float64(advance(t, p, Start(p.Hardening, -6), hold(1, -12)).LT50), 1e-12)
	twice := hold(1, -20).then(hold(3, 1), hold(1, -20))
	assert.InDelta(t, -8, float64(advance(t, p, Start(p.Hardening, -13), twice).LT50), 1e-12, "5 K in two cycles")
}

// The cost is paid within the frost: hours on end at LT50 take more than half.
func TestALongFrostTakesMoreThanAnHour(t *testing.T) {
	p := bare(-5, -9, -13, 0, 1, 1)
	hour := advance(t, p, Start(p.Hardening, -10), hold(1, -10))
	night := advance(t, p, Start(p.Hardening, -10), hold(10, -10))
	assert.InDelta(t, 0.5, hour.Survival, 1e-12)
	// The fixed point of k = 1/(1+exp(−2.5·k)): 0.906.
	assert.InDelta(t, 1-0.906, night.Survival, 0.01)
}

// Market quality goes the margin before life.
func TestQualityFailsBeforeLife(t *testing.T) {
	p := bare(-10, -10, -10, 0, 1, 1)
	p.Margin = 2
	s := advance(t, p, Start(p.Hardening, -10), hold(1, -8))
	assert.InDelta(t, 0.5, s.Quality, 1e-12)
	assert.InDelta(t, 1-Injury(-8, -10, 1), s.Survival, 1e-12)
}

// Roots do not harden: half is lost at LT50, and the band is narrow.
func TestACarrotIsJudgedAtItsFreezingPoint(t *testing.T) {
	c := find(t, "carrot")
	freezes, ok := c.Freezes.Get()
	assert.True(t, ok)
	assert.InDelta(t, -1.39, float64(freezes), 0.01, "29.5 °F, Whiteman 1957")
	for _, at := range []struct{ soil, least, most float64 }{
		{-0.5, 0, 0}, {float64(freezes), 0.15, 0.3}, {-2.5, 0.8, 1}, {-4, 1, 1},
	} {
		s := play(t, c, days(30, 2, 6).then(hold(6, at.soil)))
		assert.GreaterOrEqual(t, 1-s.Quality, at.least, "soil %g °C", at.soil)
		assert.LessOrEqual(t, 1-s.Quality, at.most, "soil %g °C", at.soil)
		assert.Equal(t, unit.Celsius(-2.2), s.LT50, "weeks of cold soil do not harden it")
	}
}
