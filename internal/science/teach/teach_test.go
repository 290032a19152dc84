package teach

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

// night expects the loss of a logistic injury of width 1 K at so many kelvins
// of tissue below the catalogue's tolerance.
func night(below, seen float64) Night {
	n := Night{Seen: seen}
	for _, x := range Shifts() {
		n.Expected = append(n.Expected, 1/(1+math.Exp(-(below+float64(x)))))
	}
	return n
}

func TestNothingSeenIsThePrior(t *testing.T) {
	got := Learn(1.5, nil)
	assert.InDelta(t, 0, float64(got.Offset), 1e-9)
	assert.InDelta(t, 1.5, float64(got.Sigma), 0.01, "the standard deviation of the prior, on a grid")
	assert.Zero(t, got.Nights)
}

func TestABedThatLivesWhereTheBookSaysHalfIsLostStandsMore(t *testing.T) {
	got := Learn(1.5, []Night{night(1, 0)})
	assert.Less(t, float64(got.Offset), -0.5)
	assert.Less(t, float64(got.Sigma), 1.5, "and less is uncertain")
	more := Learn(1.5, []Night{night(1, 0), night(2, 0), night(2, 0.1)})
	assert.Less(t, float64(more.Offset), float64(got.Offset))
	assert.Equal(t, 3, more.Nights)
}

func TestABedLostWhereTheBookSaysItHoldsStandsLess(t *testing.T) {
	assert.Greater(t, float64(Learn(1.5, []Night{night(-2, 0.9)}).Offset), 1.0)
}

func TestANightWithoutExposureTeachesNothing(t *testing.T) {
	mild := Night{Seen: 0, Expected: make([]float64, len(Shifts()))}
	assert.Equal(t, Learn(1.5, nil), Learn(1.5, []Night{mild, mild, mild}))
}

// With a linear expectation the posterior is the textbook one for a normal prior
// and a normal observation (Gelman et al., Bayesian Data Analysis, 3rd ed.,
// 2.5): precision 1/σ² + (slope/e)².
func TestLinearNightsGiveTheConjugatePosterior(t *testing.T) {
	const slope, sigma = 0.05, 1.5
	n := Night{Seen: 0.4}
	for _, x := range Shifts() {
		n.Expected = append(n.Expected, 0.5+slope*float64(x))
	}
	precision := 1/(sigma*sigma) + (slope/seenError)*(slope/seenError)
	mean := (slope / (seenError * seenError) * (0.4 - 0.5)) / precision
	got := Learn(unit.Kelvins(sigma), []Night{n})
	assert.InDelta(t, mean, float64(got.Offset), 0.01)
	assert.InDelta(t, math.Sqrt(1/precision), float64(got.Sigma), 0.01)
}
