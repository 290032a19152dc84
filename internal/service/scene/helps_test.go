package scene

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// snap is a scene in which one clear night in two days falls to a low.
func snap(t require.TestingT, low float64) *Scene {
	f := complete(hourNow)
	f.Layers[weather.Air] = layer(hourNow, 240, func(i int) float64 {
		day := 5 - 4*math.Cos(2*math.Pi*float64(i-5)/24)
		if i > 26 && i < 50 {
			return min(day, 5+(low-5)*math.Exp(-math.Pow(float64(i-45)/6, 2)))
		}
		return day
	})
	f.Layers[weather.Cloud], f.Layers[weather.Wind] = layer(hourNow, 240, always(0)), layer(hourNow, 240, always(1))
	s := looked(f)
	s.remember(history(60*24, func(i int) unit.Maybe[unit.Celsius] {
		day := float64(i) / 24
		return unit.Some(unit.Celsius(16 - day/6 - 5*math.Cos(2*math.Pi*day)))
	}), hourNow)
	s.Members, s.Spread = verdict.Dress(f, s.Coming, s.Now, 51, "snap")
	require.Empty(t, s.Missing)
	return s
}

func judged(t require.TestingT, s *Scene, bed farm.Bed) (*Trial, Plot, farm.Verdict) {
	p := aPlot(t, bed)
	a, _, err := (&Reader{}).Try(s, Groups([]Plot{p})[0], nil)
	require.NoError(t, err)
	return a, p, a.Verdict(s, &p, LimitsOf(p.Owner))
}

// The cheapest cover that carries a bed through is named alone, with the chance
// that it leaves; a heavier one is not said to be needed.
func TestTheCheapestThatHoldsIsNamed(t *testing.T) {
	s := snap(t, -5)
	a, p, v := judged(t, s, farm.Bed{ID: 1, Crop: "chard", Purpose: farm.Fresh})
	require.Equal(t, farm.HarvestBefore, v.State)
	got := (&Reader{}).Helps(s, a, &p, v)
	require.Len(t, got, 1, "%+v", got)
	require.True(t, got[0].Holds)
	assert.Less(t, got[0].Likelihood, v.CostLoss)
	for _, lighter := range coverTried {
		if lighter == got[0].Cover {
			break
		}
		under, err := (&Reader{}).whatIf(s, a, &p, lighter, -1, v.Night)
		require.NoError(t, err)
		assert.False(t, under.holds, "%s would have done", lighter)
	}
}

// Where nothing holds, the two that leave the smallest chance are named, the
// better one first, and none that hardly helps.
func TestWhereNothingHoldsTheBestAreNamed(t *testing.T) {
	s := snap(t, -16)
	a, p, v := judged(t, s, farm.Bed{ID: 1, Crop: "chard", Purpose: farm.Fresh})
	got := (&Reader{}).Helps(s, a, &p, v)
	was, _ := v.Likelihood.Get()
	for i, h := range got {
		assert.False(t, h.Holds)
		assert.LessOrEqual(t, h.Likelihood, was-0.1)
		assert.True(t, i == 0 || got[i-1].Likelihood <= h.Likelihood)
	}
	assert.LessOrEqual(t, len(got), mostHelps)
	assert.Nil(t, (&Reader{}).Helps(s, nil, &p, v), "without courses nothing is tried")
}

// Only what is more than lies there already is tried; what is in the ground wants
// straw, leaves want a cover.
func TestWhatIsTried(t *testing.T) {
	covers := func(v farm.Verdict, crop string) (out []string) {
		p := aPlot(t, farm.Bed{Crop: crop})
		for _, h := range candidates(&p, v) {
			if h.Cover != "" {
				out = append(out, h.Cover)
				assert.Zero(t, h.MulchCm)
			} else {
				out = append(out, unit.Metric.Depth(h.MulchCm))
			}
		}
		return out
	}
	assert.Equal(t, coverTried, covers(farm.Verdict{Cover: "none"}, "chard"))
	assert.Equal(t, []string{"low_tunnel_fabric"}, covers(farm.Verdict{Cover: "row_cover_heavy"}, "chard"))
	assert.Empty(t, covers(farm.Verdict{Cover: "low_tunnel_fabric"}, "chard"))
	assert.Equal(t, []string{"10 cm", "20 cm"}, covers(farm.Verdict{Cover: "none"}, "carrot"))
	assert.Equal(t, []string{"20 cm"}, covers(farm.Verdict{Cover: "none", MulchCm: 10}, "carrot"))
	assert.Equal(t, []string{"10 cm", "20 cm"}, covers(farm.Verdict{Cover: "none", Cause: farm.CrownFreeze}, "spinach"))
	for i, c := range coverTried {
		assert.True(t, i == 0 || microclimate.Cover(coverTried[i-1]).GainAt(0) != microclimate.Cover(c).GainAt(0))
	}
}

// What if: the bed as it is gives its own verdict; a cover is told in the verdict.
func TestWhatIf(t *testing.T) {
	s := snap(t, -9)
	a, p, v := judged(t, s, farm.Bed{ID: 1, Crop: "chard", Purpose: farm.Fresh})
	same, err := (&Reader{}).whatIf(s, a, &p, "", -1, v.Night)
	require.NoError(t, err)
	assert.Equal(t, v.Likelihood, same.verdict.Likelihood)
	assert.Equal(t, v.HarvestBefore, same.verdict.HarvestBefore)
	under, err := (&Reader{}).whatIf(s, a, &p, "low_tunnel_fabric", 12, v.Night)
	require.NoError(t, err)
	assert.Equal(t, "low_tunnel_fabric", under.verdict.Cover)
	assert.Equal(t, 12.0, under.verdict.MulchCm)
	assert.Less(t, under.likelihood, same.likelihood)
	again, err := (&Reader{}).whatIf(s, a, &p, "low_tunnel_fabric", 12, v.Night)
	require.NoError(t, err)
	assert.Equal(t, under, again, "tried once, remembered")
	assert.Len(t, a.others, 2)
	_, err = (&Reader{}).whatIf(s, a, &p, "tarpaulin", -1, v.Night)
	assert.ErrorContains(t, err, `cover "tarpaulin"`)
}

func TestTheChanceThatAHelpLeavesIsOfTheSameThing(t *testing.T) {
	v := farm.Verdict{Likelihood: unit.Some(0.7), Nights: []farm.NightRisk{{Night: "2025-11-14", Likelihood: 0.1}, {Night: "2025-11-15", Likelihood: 0.3}}}
	assert.Equal(t, 0.3, likelihoodBy(v, "2025-11-15"))
	assert.Equal(t, 0.7, likelihoodBy(v, "2025-11-20"), "a night that is not listed")
	v.Cause = farm.GroundFrozen
	assert.Equal(t, 0.7, likelihoodBy(v, "2025-11-15"), "that the ground closes, not that the roots are lost")
	assert.Equal(t, 1.0, likelihoodBy(farm.Verdict{}, "2025-11-15"), "what is not known is not safe")
}
