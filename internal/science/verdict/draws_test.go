package verdict_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/science/verdict"
)

func TestDrawsAreAFunctionOfTheirSeed(t *testing.T) {
	issued := time.Date(2025, 11, 14, 6, 0, 0, 0, time.UTC)
	seed := verdict.SeedFor("nws:DLH/89,91", issued)
	assert.Equal(t, "nws:DLH/89,91@2025-11-14T06:00:00Z", seed)
	assert.Equal(t, verdict.Draws(51, seed), verdict.Draws(51, seed), "the same bits")
	assert.Equal(t, seed, verdict.SeedFor("nws:DLH/89,91", issued.In(time.FixedZone("CST", -6*3600))), "the zone does not matter")
	for _, other := range []string{verdict.SeedFor("nws:DLH/89,92", issued), verdict.SeedFor("nws:DLH/89,91", issued.Add(time.Hour))} {
		assert.NotEqual(t, verdict.Draws(51, seed), verdict.Draws(51, other))
	}
	assert.Empty(t, verdict.Draws(0, seed))
}

const many = 20001

func moments(xs []float64) (mean, deviation float64) {
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	for _, x := range xs {
		deviation += (x - mean) * (x - mean) / float64(len(xs))
	}
	return mean, math.Sqrt(deviation)
}

func correlation(xs, ys []float64) float64 {
	mx, sx := moments(xs)
	my, sy := moments(ys)
	sum := 0.0
	for i := range xs {
		sum += (xs[i] - mx) * (ys[i] - my) / float64(len(xs))
	}
	return sum / sx / sy
}

func eachDraw(draws []verdict.Draw, of func(*verdict.Draw) float64) []float64 {
	out := make([]float64, len(draws))
	for i := range draws {
		out[i] = of(&draws[i])
	}
	return out
}

// share of a sample at or below a limit.
func share(xs []float64, limit float64) float64 {
	n := 0
	for _, x := range xs {
		if x <= limit {
			n++
		}
	}
	return float64(n) / float64(len(xs))
}

// Standard normal, all of it: the distribution function against tables of the
// normal distribution (Abramowitz & Stegun 1964, table 26.1).
func TestEveryDrawIsStandardNormal(t *testing.T) {
	draws := verdict.Draws(many, "table")
	for name, of := range map[string]func(*verdict.Draw) float64{
		"crop": func(d *verdict.Draw) float64 { return d.Crop }, "cover": func(d *verdict.Draw) float64 { return d.Cover },
		"first night": func(d *verdict.Draw) float64 { return d.Night[0] }, "fifth night": func(d *verdict.Draw) float64 { return d.Night[4] },
		"tenth night": func(d *verdict.Draw) float64 { return d.Night[9] },
	} {
		xs := eachDraw(draws, of)
		mean, deviation := moments(xs)
		assert.InDelta(t, 0, mean, 0.02, name)
		assert.InDelta(t, 1, deviation, 0.02, name)
		for x, want := range map[float64]float64{-2: 0.02275, -1: 0.15866, 0: 0.5, 0.5: 0.69146, 1.2816: 0.9, 2: 0.97725} {
			assert.InDelta(t, want, share(xs, x), 0.008, "%s at %v", name, x)
		}
	}
}

// What decides most, the first night and the plants, is stratified: no more
// than a member's weight off, however few there are. The two figures for
// P(T ≤ −6 °C) are those of the normal distribution.
func TestStratifiedDrawsAreExactToAMember(t *testing.T) {
	for _, n := range []int{11, 51, many} {
		draws := verdict.Draws(n, "exact")
		for _, c := range []struct{ mean, sigma, limit, want float64 }{
			{-4, 2, -6, 0.1587}, {-4, 4, -6, 0.3085}, {0, 1, 0, 0.5},
		} {
			for _, of := range []func(*verdict.Draw) float64{
				func(d *verdict.Draw) float64 { return c.mean + c.sigma*d.Night[0] }, func(d *verdict.Draw) float64 { return c.mean + c.sigma*d.Crop },
			} {
				assert.InDelta(t, c.want, share(eachDraw(draws, of), c.limit), 1/float64(n)+1e-4, "%d members, N(%v, %v)", n, c.mean, c.sigma)
			}
		}
	}
}

func TestNightsAreCorrelatedDayToDay(t *testing.T) {
	draws := verdict.Draws(many, "nights")
	night := func(d int) []float64 { return eachDraw(draws, func(x *verdict.Draw) float64 { return x.Night[d] }) }
	for d := range 9 {
		assert.InDelta(t, 0.7, correlation(night(d), night(d+1)), 0.01, "nights %d and %d", d, d+1)
		if d+2 < 10 {
			assert.InDelta(t, 0.49, correlation(night(d), night(d+2)), 0.02, "nights %d and %d", d, d+2)
		}
	}
	crops := eachDraw(draws, func(x *verdict.Draw) float64 { return x.Crop })
	covers := eachDraw(draws, func(x *verdict.Draw) float64 { return x.Cover })
	assert.InDelta(t, 0, correlation(night(0), crops), 0.02, "the plants know nothing of the weather")
	assert.InDelta(t, 0, correlation(crops, covers), 0.02)
}

func TestErrorsHaveUnitVarianceAtEveryHour(t *testing.T) {
	draws := verdict.Draws(many, "hours")
	for h := 0.0; h <= 250; h += 3.5 {
		mean, deviation := moments(eachDraw(draws, func(d *verdict.Draw) float64 { return d.ErrorAt(h) }))
		assert.InDelta(t, 0, mean, 0.02, "%v h", h)
		assert.InDelta(t, 1, deviation, 0.02, "%v h", h)
	}
}

func TestErrorsRunWithoutAJump(t *testing.T) {
	for _, d := range verdict.Draws(20, "smooth") {
		for h := 0.0; h < 260; h++ {
			assert.Less(t, math.Abs(d.ErrorAt(h+1)-d.ErrorAt(h)), 0.35, "%v h", h)
		}
		assert.Equal(t, d.Night[0], d.ErrorAt(0), "until the first night its error")
		assert.Equal(t, d.Night[0], d.ErrorAt(12))
		assert.Equal(t, d.Night[1], d.ErrorAt(36))
		assert.Equal(t, d.Night[11], d.ErrorAt(1000), "after the last its")
	}
}

func TestNightErrorsAreThoseOfTheDraws(t *testing.T) {
	rows := verdict.NightErrors(51, 40, "long")
	assert.Len(t, rows, 51)
	for i, d := range verdict.Draws(51, "long") {
		assert.Equal(t, d.Night[:], rows[i][:12])
	}
}

// σ by lead day: 1.25 times a mean absolute error of 3.0, 3.3, 3.7, 4.2, 4.8,
// 5.4 and 6.0 °F (US night minima, from memory), within the rounding to 0.1 K.
func TestSigmaByLead(t *testing.T) {
	for day, mae := range []float64{3.0, 3.3, 3.7, 4.2, 4.8, 5.4, 6.0} {
		assert.InDelta(t, 1.25*mae/1.8, float64(verdict.SigmaAt(12+24*float64(day))), 0.051, "day %d", day+1)
	}
	for hours, want := range map[float64]float64{-5: 2.1, 0: 2.1, 12: 2.1, 24: 2.2, 36: 2.3, 48: 2.45, 204: 4.5, 228: 4.6, 1000: 4.6} {
		assert.InDelta(t, want, float64(verdict.SigmaAt(hours)), 1e-9, "%v h", hours)
	}
	for h := 0.0; h < 300; h++ {
		assert.LessOrEqual(t, verdict.SigmaAt(h), verdict.SigmaAt(h+1), fmt.Sprint(h))
	}
}

func TestQuantileIsTheNearestRank(t *testing.T) {
	for _, c := range []struct {
		q    float64
		want float32
	}{{0, 1}, {0.1, 1}, {0.2, 1}, {0.21, 2}, {0.5, 3}, {0.9, 5}, {1, 5}} {
		assert.Equal(t, c.want, verdict.Quantile([]float32{5, 3, 1, 4, 2}, c.q), "%v", c.q)
	}
	assert.Equal(t, float32(7), verdict.Quantile([]float32{7}, 0.5))
}
