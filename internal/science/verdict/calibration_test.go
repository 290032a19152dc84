package verdict_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// sampling is three standard errors of a share p of n, and half of what one
// member of 51 weighs.
func sampling(p float64, n int) float64 { return 3*math.Sqrt(p*(1-p)/float64(n)) + 0.5/51 }

// Synthetic truth drawn from the dressed model: it must lie below the members'
// 10, 50 and 90 % as often as they say, at every lead. An observation below all
// members is told of; with 51 members it may happen on 1 % of days.
func TestBandsCoverWhatTheySay(t *testing.T) {
	const issues = 2000
	plain := forecastOf(-4, 240)
	hours := weather.Hours(plain, issued, issued.Add(240*time.Hour))
	lines := "lead day   below p10   p50   p90   below all members\n"
	for _, day := range []int{1, 2, 4, 7, 10} {
		h := 24*day - 12
		below := map[float64]int{}
		all := 0
		for i := range issues {
			members, _ := verdict.Dress(plain, hours[h:h+1], issued, verdict.DefaultMembers, fmt.Sprint("issue ", day, i))
			truth := verdict.Draws(1, fmt.Sprint("truth ", day, i))[0].ErrorAt(float64(h)) * float64(verdict.SigmaAt(float64(h)))
			errors := make([]float32, len(members))
			for m := range members {
				errors[m] = float32(members[m].Error[0])
			}
			for _, q := range []float64{0.1, 0.5, 0.9} {
				if float32(truth) < verdict.Quantile(errors, q) {
					below[q]++
				}
			}
			if float32(truth) < errors[0] { // Quantile has sorted them
				all++
			}
		}
		for _, q := range []float64{0.1, 0.5, 0.9} {
			assert.InDelta(t, q, float64(below[q])/issues, sampling(q, issues), "lead day %d, %v", day, q)
		}
		assert.Less(t, float64(all)/issues, 1.0/52+sampling(1.0/52, issues), "lead day %d", day)
		lines += fmt.Sprintf("%8d   %8.1f %%  %3.1f %%  %3.1f %%   %.2f %%\n", day, 100*float64(below[0.1])/issues,
			100*float64(below[0.5])/issues, 100*float64(below[0.9])/issues, 100*float64(all)/issues)
	}
	t.Logf("%d issues, 51 members:\n%s", issues, lines)
}

// game is a forecast of one night with its likelihood, and how the night went
// for a truth drawn from the same model: air, plants and cover.
type game struct {
	said float64
	lost bool
}

// play forecasts many nights of all depths for a chard that an autumn has
// hardened half, through ground, leaf and hardening.
func play(t *testing.T, nights int) []game {
	p := bed.Plant{Crop: cropOf(t, "chard")}
	plants, spread := []bed.Plant{p}, []unit.Kelvins{p.Crop.Spread}
	class := bed.ClassOf(placed(farm.Field{}, time.UTC), farm.Bed{Covers: []farm.Cover{{Kind: "row_cover_light", On: "2025-11-01"}}},
		microclimate.FieldBias{}, nil).Growing(p.Crop)
	noon := time.Date(2025, 11, 14, 18, 0, 0, 0, time.UTC)
	book := bed.NewBook(&class, plants, noon)
	s := book.Plants[p.Key()]
	s.Sold.LT50 = (p.Crop.Sold.Unhardened + p.Crop.Sold.Full) / 2
	book.Plants[p.Key()] = s
	out := make([]game, nights)
	for i := range out {
		hours := clearNight(noon, 4, -12+14*float64(i%97)/96)
		members, _ := verdict.Dress(weather.Forecast{}, hours, noon, verdict.DefaultMembers, fmt.Sprint("said ", i))
		truth, _ := verdict.Dress(weather.Forecast{}, hours, noon, 1, fmt.Sprint("came ", i))
		courses, err := bed.Try(&book, &class, plants, spread, hours, append(members, truth[0]))
		require.NoError(t, err)
		last := len(members)
		q := verdict.Question{Now: noon, Zone: zoneOf(t, "America/Chicago"), Plant: &p, Start: s, Purpose: farm.Fresh, CostLoss: 0.2,
			Site: &north, Hours: hours, Courses: courses[0][:last], Limits: bed.Limits{WindChill: -20, CrustCm: 3, SnowCm: 30}}
		said, ok := verdict.Judge(q).Likelihood.Get()
		require.True(t, ok)
		out[i] = game{said: said, lost: courses[0][last].Loss[len(hours)-1] > bed.LossShare}
	}
	return out
}

// clearNight is 24 hours from local noon on that fall from warm to cold at
// sunrise and rise again.
func clearNight(noon time.Time, warm, cold float64) []weather.Hour {
	out := make([]weather.Hour, 24)
	for i := range out {
		share := math.Sin(math.Pi / 2 * min(1, float64(i)/18))
		if i > 18 {
			share = max(0, 1-float64(i-18)/5)
		}
		air := unit.Celsius(warm + (cold-warm)*share)
		out[i] = weather.Hour{At: noon.Add(time.Duration(i) * time.Hour), Air: unit.Some(air), DewPoint: unit.Some(air - 2),
			Wind: unit.Some(1.0), Cloud: unit.Some(0.1), Precip: unit.Some(0.0)}
	}
	return out
}

// Likelihoods through the whole chain: what is said to be lost in 3 nights of 10
// is lost in 3 of 10, and who acts at C/L spends less than who acts sooner or
// later (cost–loss model: Murphy 1977, Monthly Weather Review 105; Richardson
// 2000, Quarterly Journal of the Royal Meteorological Society 126).
func TestLikelihoodsAreKept(t *testing.T) {
	const nights = 679
	games := play(t, nights)
	edges := []float64{0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.01}
	lines := "said         nights   said   lost\n"
	brier, base := 0.0, 0.0
	for _, g := range games {
		base += truthOf(g) / nights
	}
	for _, g := range games {
		brier += math.Pow(g.said-truthOf(g), 2) / nights
	}
	for i := range edges[1:] {
		said, lost, n := 0.0, 0.0, 0
		for _, g := range games {
			if g.said >= edges[i] && g.said < edges[i+1] {
				said, lost, n = said+g.said, lost+truthOf(g), n+1
			}
		}
		require.Greater(t, n, 25, "every class of likelihood is met")
		said, lost = said/float64(n), lost/float64(n)
		assert.InDelta(t, said, lost, sampling(said, n), "said %v to %v", edges[i], edges[i+1])
		lines += fmt.Sprintf("%.2f–%.2f   %6d   %.3f  %.3f\n", edges[i], min(1, edges[i+1]), n, said, lost)
	}
	t.Logf("%d nights, lost in %.2f of them, Brier score %.4f (always saying %.2f: %.4f):\n%s", nights, base, brier, base, base*(1-base), lines)
	assert.Less(t, brier, base*(1-base)/2)
	for _, costLoss := range []float64{0.15, 0.2, 0.3, 0.5} {
		atOwn := expense(games, costLoss, costLoss)
		for _, other := range []float64{costLoss / 4, costLoss * 1.9} {
			assert.Less(t, atOwn, expense(games, costLoss, other), "C/L %v, acting at %.2f", costLoss, other)
		}
	}
}

func truthOf(g game) float64 {
	if g.lost {
		return 1
	}
	return 0
}

// expense a night in units of the loss, for acting from a likelihood on.
func expense(games []game, costLoss, actAt float64) float64 {
	sum := 0.0
	for _, g := range games {
		if g.said >= actAt {
			sum += costLoss
		} else {
			sum += truthOf(g)
		}
	}
	return sum / float64(len(games))
}
