package scene

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var hourNow = time.Date(2025, 11, 14, 15, 0, 0, 0, time.UTC)

func layer(from time.Time, n int, value func(i int) float64) []weather.Interval {
	out := make([]weather.Interval, n)
	for i := range out {
		at := from.Add(time.Duration(i) * time.Hour)
		out[i] = weather.Interval{Start: at, End: at.Add(time.Hour), Value: unit.Some(value(i))}
	}
	return out
}

func always(v float64) func(int) float64 { return func(int) float64 { return v } }

// complete is a forecast with every layer, from an hour on, for ten days.
func complete(from time.Time) weather.Forecast {
	const n = 240
	return weather.Forecast{Source: "nws", Issued: from, Layers: map[weather.Quantity][]weather.Interval{
		weather.Air:      layer(from, n, func(i int) float64 { return 2 - 6*math.Sin(2*math.Pi*float64(i+3)/24) }),
		weather.DewPoint: layer(from, n, always(-3)), weather.Wind: layer(from, n, always(2)), weather.Cloud: layer(from, n, always(0.2)),
		weather.Precip: layer(from, n, always(0)),
	}}
}

func looked(f weather.Forecast) *Scene {
	s := &Scene{Doc: store.Forecast{ID: 7, Body: f}, Now: hourNow.Add(25 * time.Minute)}
	s.look(hourNow)
	return s
}

// blank takes values out of a layer.
func blank(f weather.Forecast, q weather.Quantity, from, to int, with unit.Maybe[float64]) weather.Forecast {
	for i := from; i < to; i++ {
		f.Layers[q][i].Value = with
	}
	return f
}

// A layer that is missing, too thin or no number ends in its name: nothing is
// judged, and nobody takes it for warm.
func TestWhatIsMissingIsNamed(t *testing.T) {
	none, nan := unit.None[float64](), unit.Some(math.NaN())
	without := func(q weather.Quantity) weather.Forecast {
		f := complete(hourNow)
		delete(f.Layers, q)
		return f
	}
	refused := without(weather.Wind)
	refused.Refused = []weather.Refusal{{Layer: "windSpeed", Reason: "unit wmoUnit:kt is not known"}}
	for _, c := range []struct {
		name   string
		f      weather.Forecast
		wants  []farm.Gap
		coming int
	}{
		{"whole", complete(hourNow), nil, 240},
		{"no air", without(weather.Air), []farm.Gap{{What: farm.GapAir, Hours: 48, Of: 48}}, 0},
		{"air is no number", blank(complete(hourNow), weather.Air, 5, 12, nan), []farm.Gap{{What: farm.GapAir, Hours: 7, Of: 48}}, 5},
		{"one hour of air", blank(complete(hourNow), weather.Air, 20, 21, none), []farm.Gap{{What: farm.GapAir, Hours: 1, Of: 48}}, 240},
		{"no dew point", without(weather.DewPoint), []farm.Gap{{What: farm.GapDewPoint, Hours: 48, Of: 48}}, 240},
		{"dew point is no number", blank(complete(hourNow), weather.DewPoint, 0, 240, nan), []farm.Gap{{What: farm.GapDewPoint, Hours: 48, Of: 48}}, 240},
		{"no wind, and why", refused, []farm.Gap{{What: farm.GapWind, Hours: 48, Of: 48}, {What: farm.GapRefused, Name: "windSpeed", Says: "unit wmoUnit:kt is not known"}}, 240},
		{"wind for six hours short", blank(complete(hourNow), weather.Wind, 10, 16, none), nil, 240},
		{"for seven", blank(complete(hourNow), weather.Wind, 10, 17, none), []farm.Gap{{What: farm.GapWind, Hours: 7, Of: 48}}, 240},
		{"no cloud", without(weather.Cloud), []farm.Gap{{What: farm.GapCloud, Hours: 48, Of: 48}}, 240},
		{"nothing at all", weather.Forecast{}, []farm.Gap{{What: farm.GapAir, Hours: 48, Of: 48}, {What: farm.GapCloud, Hours: 48, Of: 48},
			{What: farm.GapDewPoint, Hours: 48, Of: 48}, {What: farm.GapWind, Hours: 48, Of: 48}}, 0},
		{"beyond two days a short hole is bridged", blank(complete(hourNow), weather.Air, 100, 103, none), nil, 240},
		{"a long one ends what is seen", blank(complete(hourNow), weather.Air, 100, 104, none), nil, 100},
		{"begins with the next hour", complete(hourNow.Add(time.Hour)), nil, 240},
		{"begins three hours from now", complete(hourNow.Add(3 * time.Hour)), nil, 240},
		{"begins four hours from now", complete(hourNow.Add(4 * time.Hour)), []farm.Gap{{What: farm.GapAir, Hours: 4, Of: 48}}, 0},
	} {
		s := looked(c.f)
		assert.Equal(t, c.wants, s.Missing, c.name)
		assert.Len(t, s.Coming, c.coming, c.name)
		for i, h := range s.Coming {
			assert.Equal(t, hourNow.Add(time.Duration(i)*time.Hour), h.At, c.name)
			air, ok := h.Air.Get()
			assert.True(t, ok && air.Finite(), "%s, hour %d", c.name, i)
		}
	}
	sun := without(weather.Cloud)
	sun.Layers[weather.Shortwave] = layer(hourNow, 240, always(0))
	assert.Empty(t, looked(sun).Missing, "the sun that is given says as much as cloud")
	empty := &Scene{}
	empty.look(hourNow)
	assert.Equal(t, []farm.Gap{{What: farm.GapForecast}}, empty.Missing)
	assert.Equal(t, farm.NoForecast, empty.Unseen(farm.New("Hill Farm", hourNow)))
}

func TestAForecastThatEndsTooSoonIsNamed(t *testing.T) {
	s := looked(blank(complete(hourNow), weather.Air, 48, 240, unit.None[float64]()))
	assert.Empty(t, s.Missing)
	assert.Len(t, s.Coming, 48)
}

// history is stored hours up to now, with air where a test asks for it.
func history(n int, air func(i int) unit.Maybe[unit.Celsius]) []weather.Hour {
	out := make([]weather.Hour, n)
	for i := range out {
		out[i] = weather.Hour{At: hourNow.Add(time.Duration(i-n) * time.Hour), Air: air(i), Wind: unit.Some(1.0)}
	}
	return out
}

func cool(int) unit.Maybe[unit.Celsius] { return unit.Some(unit.Celsius(4)) }

func holed(from, to int) func(i int) unit.Maybe[unit.Celsius] {
	return func(i int) unit.Maybe[unit.Celsius] {
		if i >= from && i < to {
			return unit.None[unit.Celsius]()
		}
		return cool(i)
	}
}

// Missing hours of the past are bridged; the sound ones of two weeks are counted,
// and with too few of them a bed's hardening counts as a guess.
func TestThePastIsBridgedAndCounted(t *testing.T) {
	for _, c := range []struct {
		name   string
		stored []weather.Hour
		past   int
		known  int
		thin   bool
	}{
		{"none", nil, 0, 0, true},
		{"a day", history(24, cool), 24, 24, true},
		{"two weeks", history(336, cool), 336, 336, false},
		{"a season", history(2000, cool), 2000, 336, false},
		{"short holes", history(500, func(i int) unit.Maybe[unit.Celsius] { return holed(i/10*10, i/10*10+3)(i) })[3:], 497, 336, false},
		{"a night without", history(500, holed(450, 462)), 500, 324, false},
		{"days without", history(500, holed(400, 460)), 500, 276, true},
		{"long ago", history(1000, holed(100, 500)), 1000, 336, false},
		{"up to now", history(500, holed(440, 500)), 500, 276, true},
		{"air begins later than the rest", history(400, holed(0, 50)), 350, 336, false},
		{"air that is no number", history(400, func(i int) unit.Maybe[unit.Celsius] {
			if i < 50 {
				return unit.Some(unit.Celsius(math.NaN()))
			}
			return cool(i)
		}), 350, 336, false},
		{"no air at all", history(400, holed(0, 400)), 0, 0, true},
	} {
		s := looked(complete(hourNow))
		s.remember(c.stored, hourNow)
		assert.Len(t, s.Past, c.past, c.name)
		assert.Equal(t, c.known, s.Known, c.name)
		assert.Equal(t, c.thin, s.thin(), c.name)
		assert.Equal(t, hourNow.Add(-time.Duration(c.past)*time.Hour), s.Start, c.name)
		for i, h := range s.Past {
			assert.Equal(t, s.Start.Add(time.Duration(i)*time.Hour), h.At, c.name)
			air, ok := h.Air.Get()
			assert.True(t, ok && air.Finite(), "%s, hour %d", c.name, i)
		}
	}
}

func TestWithoutAForecastThePastEndsWhereItIsKnown(t *testing.T) {
	s := &Scene{}
	s.remember(history(100, holed(90, 100)), hourNow)
	assert.Len(t, s.Past, 90)
	assert.Equal(t, 90, s.Known)
}

// Whatever is missing, either it is named or every coming hour can be stepped.
func TestPropertyBlindOrWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := complete(hourNow.Add(time.Duration(rapid.IntRange(-30, 6).Draw(t, "begins")) * time.Hour))
		for range rapid.IntRange(0, 6).Draw(t, "holes") {
			q := rapid.SampledFrom([]weather.Quantity{weather.Air, weather.DewPoint, weather.Wind, weather.Cloud, weather.Precip}).Draw(t, "layer")
			from := rapid.IntRange(0, 239).Draw(t, "from")
			with := rapid.SampledFrom([]unit.Maybe[float64]{unit.None[float64](), unit.Some(math.NaN()), unit.Some(math.Inf(1))}).Draw(t, "with")
			f = blank(f, q, from, min(240, from+rapid.IntRange(1, 60).Draw(t, "hours")), with)
		}
		s := looked(f)
		if len(s.Missing) > 0 {
			return
		}
		require.GreaterOrEqual(t, len(s.Coming), leastHours)
		members, _ := verdict.Dress(f, s.Coming, s.Now, 3, "any")
		group := aGroup(t, "chard")
		s.Members, s.Start = members, hourNow
		_, _, err := (&Reader{}).Try(s, group, nil)
		require.NoError(t, err)
	})
}
