package npmtest_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/trial/npmtest"
)

// place and moment of which suncalc is asked.
type moment struct {
	At        time.Time `json:"at"`
	Latitude  float64   `json:"latitude"`
	Longitude float64   `json:"longitude"`
}

type sun struct {
	Altitude   float64   `json:"altitude"`
	Sunrise    time.Time `json:"sunrise"`
	Sunset     time.Time `json:"sunset"`
	AlwaysUp   bool      `json:"alwaysUp"`
	AlwaysDown bool      `json:"alwaysDown"`
}

// places in both hemispheres and on both sides of Greenwich.
var places = map[string][2]float64{
	"western Great Lakes": {46, -92}, "northern Maine": {46.71, -68.32}, "Arizona mountains": {35.2, -111.65},
	"southern Norway": {59.9, 10.75}, "Hokkaido": {43.06, 141.35}, "Otago": {-45.03, 169.13},
}

// asked gives, for the middle of every month, the solar noon of a place moved by
// some hours.
func asked(at [2]float64, hours ...float64) []moment {
	var ms []moment
	for month := time.January; month <= time.December; month++ {
		noon := time.Date(2025, month, 15, 12, 0, 0, 0, time.UTC).Add(time.Duration(-at[1] / 15 * float64(time.Hour)))
		for _, h := range hours {
			ms = append(ms, moment{noon.Add(time.Duration(h * float64(time.Hour))).Truncate(time.Second), at[0], at[1]})
		}
	}
	return ms
}

// The reference of this file: suncalc 2.0.2 of the Node registry, which follows
// Meeus and is held against the US Naval Observatory by its authors.

func TestElevationOfTheSun(t *testing.T) {
	compared, widest := 0, 0.0
	for name, at := range places {
		moments := asked(at, -5, -3.5, -2, 0, 1, 3, 4.5)
		var said []sun
		npmtest.Run(t, "sun.mjs", moments, &said)
		require.Len(t, said, len(moments))
		for i, m := range moments {
			mine := microclimate.SunElevation(m.At, m.Latitude, m.Longitude)
			if mine < 5 {
				continue // refraction near the horizon is a formula's choice
			}
			compared++
			widest = max(widest, math.Abs(said[i].Altitude-mine))
			assert.InDelta(t, said[i].Altitude, mine, 0.3, "%s, %s", name, m.At)
			assert.InDelta(t, said[i].Altitude-refraction(mine), mine, 0.02, "%s, %s: without refraction", name, m.At)
		}
	}
	require.Greater(t, compared, 200)
	t.Logf("%d elevations, at most %.3f° apart, refraction and all", compared, widest)
}

func TestSunriseAndSunset(t *testing.T) {
	widest := time.Duration(0)
	for name, at := range places {
		moments := asked(at, 0)
		var said []sun
		npmtest.Run(t, "sun.mjs", moments, &said)
		for i, m := range moments {
			rise, set, _, ok := microclimate.Daylight(m.At, m.Latitude, m.Longitude)
			require.True(t, ok, name)
			assert.WithinDuration(t, said[i].Sunrise, rise, 2*time.Minute, "sunrise at %s, %s", name, m.At)
			assert.WithinDuration(t, said[i].Sunset, set, 2*time.Minute, "sunset at %s, %s", name, m.At)
			widest = max(widest, said[i].Sunrise.Sub(rise).Abs(), said[i].Sunset.Sub(set).Abs())
		}
	}
	t.Logf("at most %s apart", widest)
}

// Beyond the polar circle both know which days have neither.
func TestPolarNightAndDay(t *testing.T) {
	moments := asked([2]float64{69.65, 18.96}, 0)
	var said []sun
	npmtest.Run(t, "sun.mjs", moments, &said)
	without := 0
	for i, m := range moments {
		_, _, up, ok := microclimate.Daylight(m.At, m.Latitude, m.Longitude)
		assert.Equal(t, !ok, said[i].AlwaysUp || said[i].AlwaysDown, m.At)
		if !ok {
			without++
			assert.Equal(t, said[i].AlwaysUp, up, m.At)
		}
	}
	assert.GreaterOrEqual(t, without, 3)
}

// refraction lifts the sun, in degrees at a true elevation in degrees:
// Sæmundsson's formula (Meeus, Astronomical Algorithms, ch. 16).
func refraction(elevation float64) float64 {
	return 1.02 / math.Tan((elevation+10.3/(elevation+5.11))*math.Pi/180) / 60
}
