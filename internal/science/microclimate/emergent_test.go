package microclimate

import (
	"fmt"
	"math"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// coolWeeks are days of 8 °C and nights of 1 °C, half clouded, with a breeze.
func coolWeeks(start time.Time, weeks int) []weather.Hour {
	all := make([]weather.Hour, weeks*7*24)
	for i := range all {
		at := start.Add(time.Duration(i) * time.Hour)
		local := float64(at.Add(-6*time.Hour).Hour()) / 24
		all[i] = hourOf(at, 4.5+3.5*wave(local-0.375), 0.5, 3)
	}
	return all
}

// clearNight falls from 2 °C at 18 h local time (0 h UTC) to a minimum at
// sunrise as on a frost night, cloudless, with 1 m/s of wind.
func clearNight(start time.Time, low float64) []weather.Hour {
	all := make([]weather.Hour, 16)
	for i := range all {
		air := float64(NightTrend(2, unit.Celsius(low), float64(i)+1, 14))
		all[i] = hourOf(start.Add(time.Duration(i)*time.Hour), air, 0, 1)
	}
	return all
}

var (
	autumnStart = time.Date(2025, 10, 14, 0, 0, 0, 0, time.UTC)
	upland      = Site{Latitude: 45, Longitude: -90, ElevationM: 300, Soil: Loam}
)

// afterAutumn is bare ground after four cool weeks less their last day.
var afterAutumn = sync.OnceValue(func() Ground {
	b := newBed(upland, Dressing{}, autumnStart)
	b.through(failing{}, coolWeeks(autumnStart, 4)[:27*24])
	return b.Ground
})

// snapOn dresses the bed, lets the last cool day pass and then one clear night;
// snow lies from the evening on.
func snapOn(t assert.TestingT, on Dressing, snowCm, low float64) *bed {
	b := &bed{Ground: afterAutumn(), site: upland, on: on, heightCm: 20}
	b.through(failing{t}, coolWeeks(autumnStart, 4)[27*24:])
	night := clearNight(b.At(), low)
	if snowCm > 0 {
		night[0].SnowDepth = unit.Some(snowCm)
	}
	b.forget()
	b.through(failing{t}, night)
	return b
}

// failing lets assert's and rapid's T stand where require asks for FailNow.
type failing struct{ assert.TestingT }

func (f failing) FailNow() { panic("stepping the bed failed") }

const (
	eightF       = -13.3 // 8 °F
	carrotPointC = -1.4  // 29.5 °F, Whiteman 1957, USDA Marketing Research Report 196
)

// Carrots take a little damage in the top 2.5 cm once the air goes below about
// 8 °F; under snow or straw they do not. Common practice, no source.
func TestClearNightOf8FFreezesCarrotShouldersOnlyInTheOpen(t *testing.T) {
	for _, s := range []Surface{Bare, Stand} {
		open := snapOn(t, Dressing{Surface: s}, 0, eightF)
		assert.Less(t, open.shoulder, carrotPointC, "%s: the top 2.5 cm", s)
		assert.Less(t, float64(open.at5), 1.0, s)
		assert.Greater(t, open.crust, 1.0, "%s: a crust", s)
		assert.Greater(t, snapOn(t, Dressing{Surface: s}, 20, eightF).shoulder, 0.0, "%s under 20 cm of snow", s)
		assert.Greater(t, snapOn(t, Dressing{Surface: s, MulchCm: 15}, 0, eightF).shoulder, 0.0, "%s under 15 cm of straw", s)
	}
	mild := snapOn(t, Dressing{Surface: Stand}, 0, -4)
	assert.Greater(t, mild.shoulder, carrotPointC, "a night of -4 °C does not reach the shoulders under leaves")
}

// A leaf on a clear calm night is 1 to 3 K below the air: Leuning & Cremer 1988,
// Agric. For. Meteorol. 42:121.
func TestClearNightDepression(t *testing.T) {
	b := snapOn(t, Dressing{}, 0, eightF)
	assert.InDelta(t, eightF-2, b.leaf, 1)
}

// winter is a course of air with a week of clear nights down to a minimum, after
// an autumn, the same whatever lies on the ground; snow of a depth from mid-December.
func winter(low, snowCm float64) []weather.Hour {
	start := time.Date(2025, 10, 1, 6, 0, 0, 0, time.UTC)
	all := make([]weather.Hour, 110*24)
	for i := range all {
		day := float64(i) / 24
		mean, cloud, wind := 9-day/6, 0.5, 2.0
		if day >= 100 && day < 107 {
			mean, cloud, wind = low+6, 0, 1
		}
		all[i] = hourOf(start.Add(time.Duration(i)*time.Hour), mean-6*math.Cos(2*math.Pi*(day-0.04)), cloud, wind)
		all[i].DewPoint = unit.Some(unit.Celsius(mean - 8))
		all[i].SnowDepth = unit.Some(0.0)
		if day > 75 {
			all[i].SnowDepth = unit.Some(snowCm)
		}
	}
	return all
}

// Snow decides. At air minima of -27 to -36 °C the 5 cm minimum of eight US
// reference stations (grass, snow of all depths) spans +0.5 to -8.5 °C; in a
// forest at -12 °C and less, snow of 2 to 10 cm goes with 5 cm minima down to
// -5.1 °C and snow over 25 cm never with less than -1.1 °C.
func TestColdestNightBySnow(t *testing.T) {
	for _, r := range []struct {
		surface  Surface
		low      float64
		snowCm   float64
		min, max float64 // of the soil at 5 cm
	}{
		{Grass, -30, 5, -8.5, -2}, {Grass, -30, 15, -4, 0.5}, {Grass, -30, 30, -1.1, 0.5},
		{Litter, -20, 5, -5.1, 0.5}, {Litter, -20, 15, -2, 0.8}, {Litter, -20, 30, -1.1, 1.5},
		{Bare, -30, 0, -28, -12}, {Bare, -30, 5, -12, -3}, {Bare, -30, 15, -4, -0.5}, {Bare, -30, 30, -2.5, 0.5},
	} {
		t.Run(fmt.Sprintf("%s %v cm", r.surface, r.snowCm), func(t *testing.T) {
			hours := winter(r.low, r.snowCm)
			b := newBed(upland, Dressing{Surface: r.surface}, hours[0].At)
			b.through(t, hours[:100*24])
			b.forget()
			b.through(t, hours[100*24:])
			t.Logf("air %v °C, snow %v cm, %s: 5 cm %.1f °C, crust %.0f cm", r.low, r.snowCm, r.surface, b.at5, b.crust)
			assert.GreaterOrEqual(t, b.at5, r.min)
			assert.LessOrEqual(t, b.at5, r.max)
		})
	}
}

// On the coldest night a colder night, less snow, a lighter cover or less mulch
// never means warmer tissue.
func TestNothingColderIsSafer(t *testing.T) {
	ordered := []Cover{NoCover, RowCoverLight, RowCoverHeavy, LowTunnelFabric}
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-25, -3).Draw(t, "low")
		less := rapid.Float64Range(0, 8).Draw(t, "colder by")
		snow := rapid.Float64Range(5, 40).Draw(t, "snow")
		more := rapid.Float64Range(2, 20).Draw(t, "more snow")
		mulch := max(0, rapid.Float64Range(-10, 25).Draw(t, "mulch"))
		moreMulch := rapid.Float64Range(3, 15).Draw(t, "more mulch")
		i := rapid.IntRange(0, len(ordered)-2).Draw(t, "cover")
		draw := rapid.Float64Range(-3, 3).Draw(t, "draw")
		base := Dressing{Cover: ordered[i], Draw: draw, MulchCm: mulch}
		heavier, deeper := base, base
		heavier.Cover = ordered[i+1]
		deeper.MulchCm += moreMulch

		here := snapOn(t, base, 0, low)
		noWarmer(t, "colder night", snapOn(t, base, 0, low-less), here, true)
		noWarmer(t, "lighter cover", here, snapOn(t, heavier, 0, low), true)
		noWarmer(t, "less mulch", here, snapOn(t, deeper, 0, low), false)
		if low+float64(base.Cover.GainAt(draw)) > -8 {
			return // the first thin snow of a mild night melts on warm soil and cools it
		}
		noWarmer(t, "less snow", snapOn(t, base, snow, low), snapOn(t, base, snow+more, low), mulch == 0)
		noWarmer(t, "no snow", here, snapOn(t, base, snow, low), mulch == 0)
	})
}

// noWarmer compares two beds as far as they freeze; above 0 °C there is nothing
// to lose, and snow keeps there what it lies on cool. Straw keeps the ground's
// warmth from the leaves and the snow above it, so mulch says nothing about leaves.
func noWarmer(t *rapid.T, why string, colder, warmer *bed, leaves bool) {
	const slack = 0.05 // K: a hair more snow also lets its surface grow a hair colder
	check := func(what string, a, b float64) {
		if min(0, a) > min(0, b)+slack {
			t.Fatalf("%s: %s %.3f against %.3f", why, what, a, b)
		}
	}
	if leaves {
		check("leaf", colder.leaf, warmer.leaf)
	}
	check("crown", colder.crown, warmer.crown)
	check("shoulder", colder.shoulder, warmer.shoulder)
}
