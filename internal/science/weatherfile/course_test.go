package weatherfile

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Reference: the library astronomy-engine 2 (VSOP87), run once for these places.
// The local civil noon of the day is given; far from Greenwich it lies on
// another UTC day than the solar noon.
func TestDaylightOfACivilDay(t *testing.T) {
	for _, c := range []struct {
		civil     string
		lat, lon  float64
		rise, set string
	}{
		{"2024-12-21T12:00:00-06:00", 46, -92, "2024-12-21T13:47:12Z", "2024-12-21T22:25:38Z"},
		{"2024-06-21T12:00:00-05:00", 46, -92, "2024-06-21T10:17:22Z", "2024-06-22T02:02:34Z"},
		{"1940-11-05T12:00:00-06:00", 43.04, -87.9, "1940-11-05T12:31:22Z", "1940-11-05T22:38:39Z"},
		{"2023-10-15T12:00:00+02:00", 60, 10, "2023-10-15T05:58:26Z", "2023-10-15T16:12:05Z"},
		{"1999-03-20T12:00:00+10:00", -33.9, 151.2, "1999-03-19T19:57:40Z", "1999-03-20T08:07:38Z"},
		{"2025-01-01T12:00:00+13:00", -41.3, 174.8, "2024-12-31T16:51:11Z", "2025-01-01T07:57:05Z"},
	} {
		civil, err := time.Parse(time.RFC3339, c.civil)
		require.NoError(t, err)
		rise, err := time.Parse(time.RFC3339, c.rise)
		require.NoError(t, err)
		set, err := time.Parse(time.RFC3339, c.set)
		require.NoError(t, err)
		noon, hours := daylight(civil, c.lat, c.lon)
		assert.WithinDuration(t, rise, noon.Add(-hoursOf(hours/2)), 2*time.Minute, c.civil)
		assert.WithinDuration(t, set, noon.Add(hoursOf(hours/2)), 2*time.Minute, c.civil)
	}
}

func TestPolarDaysHaveACourseToo(t *testing.T) {
	for _, civil := range []string{"2024-06-21T12:00:00+02:00", "2024-12-21T12:00:00+01:00"} {
		at, err := time.Parse(time.RFC3339, civil)
		require.NoError(t, err)
		noon, hours := daylight(at, 70, 25)
		assert.WithinDuration(t, at.UTC().Truncate(24*time.Hour).Add(10*time.Hour+20*time.Minute), noon, 17*time.Minute)
		assert.Equal(t, at.Month() == time.June, hours == 24)
	}
}

func central(t require.TestingT) *time.Location {
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return zone
}

func TestCourseOfAWinterDay(t *testing.T) {
	zone := central(t)
	hours, err := FromDaily([]Day{
		{Date: "2024-12-20", Min: c(-10), Max: c(-2), Precip: unit.Some(4.8), SnowDepth: unit.Some(12.0)},
		{Date: "2024-12-21", Min: c(-15), Max: c(-5)},
	}, 46, -92, zone)
	require.NoError(t, err)
	at := map[string]float64{}
	for _, h := range hours {
		at[h.At.In(zone).Format("02T15")] = float64(h.Air.Else(99))
	}
	assert.Equal(t, "20T08", hours[0].At.In(zone).Format("02T15"), "sunrise is at 7:47")
	assert.Equal(t, "21T14", hours[len(hours)-1].At.In(zone).Format("02T15"), "noon is at 12:06, the maximum 1.86 h later")
	assert.Equal(t, -10.0, at["20T08"])
	assert.Equal(t, -2.0, at["20T14"])
	assert.Equal(t, -15.0, at["21T08"])
	assert.Equal(t, -5.0, at["21T14"])
	// By hand: day 8.64 h, quarter of its sine 6.18 h, night trend from 18:26
	// with T2 = -15 + 13·cos(90°·4.43/6.18) = -9.41 °C; at 22:00 a share
	// sqrt(3.57/13.57) of the fall to -15 °C is done.
	assert.InDelta(t, -12.28, at["20T22"], 0.03)
	assert.InDelta(t, 0.2, hours[5].Precip.Else(99), 1e-9, "4.8 mm over 24 hours")
	assert.Equal(t, 12.0, hours[0].SnowDepth.Else(99))
	assert.False(t, hours[len(hours)-1].SnowDepth.Known())
}

func TestMissingDaysStayMissing(t *testing.T) {
	days := []Day{
		{Date: "2024-12-20", Min: c(-10), Max: c(-2)},
		{Date: "2024-12-22", Min: c(-8), Max: c(-1)},
		{Date: "2024-12-23", Min: c(-9)},
		{Date: "2024-12-24", Min: c(-9), Max: c(0)},
	}
	hours, err := FromDaily(days, 46, -92, central(t))
	require.NoError(t, err)
	known := map[string]bool{}
	for _, h := range hours {
		known[h.At.In(central(t)).Format("02T15")] = h.Air.Known()
	}
	for at, want := range map[string]bool{
		"20T12": true, "20T15": false, "21T08": false, "21T14": false, "22T05": false,
		"22T08": true, "22T23": true, "23T08": true, "23T12": false, "24T02": false, "24T08": true, "24T10": true,
	} {
		assert.Equal(t, want, known[at], at)
	}
	assert.Len(t, hours, 4*24+6+1, "every hour is there, also those of the missing day")
}

func TestCourseKeepsWithinTheDaysValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-80, 80).Draw(t, "lat")
		lon := rapid.Float64Range(-140, -40).Draw(t, "lon")
		start := farm.Day("2023-01-01").Add(rapid.IntRange(0, 800).Draw(t, "day"))
		var days []Day
		for i := range rapid.IntRange(2, 6).Draw(t, "n") {
			low := rapid.Float64Range(-40, 20).Draw(t, "low")
			days = append(days, Day{Date: start.Add(i), Min: c(low), Max: c(low + rapid.Float64Range(0, 25).Draw(t, "range"))})
		}
		hours, err := FromDaily(days, lat, lon, central(t))
		require.NoError(t, err)
		lowest, highest := math.Inf(1), math.Inf(-1)
		for i, h := range hours {
			v, ok := h.Air.Get()
			require.True(t, ok)
			require.True(t, v.Finite())
			require.Equal(t, h.At.Truncate(time.Hour), h.At)
			if i > 0 {
				require.Equal(t, hours[i-1].At.Add(time.Hour), h.At)
			}
			lowest, highest = min(lowest, float64(v)), max(highest, float64(v))
		}
		wantLow, wantHigh := math.Inf(1), math.Inf(-1)
		for _, d := range days {
			wantLow, wantHigh = min(wantLow, float64(d.Min.Else(0))), max(wantHigh, float64(d.Max.Else(0)))
		}
		assert.InDelta(t, wantLow, lowest, 1e-9, "the hours reach the lowest minimum and do not pass it")
		if wantHigh > lowest { // a night warmer than the day before rises, within the days' values
			assert.LessOrEqual(t, highest, wantHigh+1e-9)
		}
	})
}

func TestFromDailyRefusals(t *testing.T) {
	zone := central(t)
	good := []Day{{Date: "2024-12-20", Min: c(-10), Max: c(-2)}, {Date: "2024-12-21", Min: c(-10), Max: c(-2)}}
	for name, f := range map[string]func() error{
		"latitude": func() error { _, err := FromDaily(good, math.NaN(), -92, zone); return err },
		"no zone":  func() error { _, err := FromDaily(good, 46, -92, nil); return err },
		"zone far from the place": func() error {
			_, err := FromDaily(good, 46, 92, zone)
			return err
		},
		"order":   func() error { _, err := FromDaily([]Day{good[1], good[0]}, 46, -92, zone); return err },
		"twice":   func() error { _, err := FromDaily([]Day{good[0], good[0]}, 46, -92, zone); return err },
		"no date": func() error { _, err := FromDaily([]Day{{}}, 46, -92, zone); return err },
		"NaN": func() error {
			_, err := FromDaily([]Day{{Date: "2024-12-20", Min: c(math.NaN())}}, 46, -92, zone)
			return err
		},
		"upside down": func() error {
			_, err := FromDaily([]Day{{Date: "2024-12-20", Min: c(2), Max: c(1)}}, 46, -92, zone)
			return err
		},
	} {
		t.Run(name, func(t *testing.T) { assert.ErrorContains(t, f(), "hourly course") })
	}
	hours, err := FromDaily(nil, 46, -92, zone)
	assert.NoError(t, err)
	assert.Empty(t, hours)
}

func TestFillMax(t *testing.T) {
	var days []Day
	for i := range 40 {
		days = append(days, Day{Date: farm.Day("2024-01-01").Add(i), Min: c(-10), Max: c(-2)})
	}
	days[20].Max = unit.None[unit.Celsius]()
	days[21].Min = unit.None[unit.Celsius]()
	days = append(days, Day{Date: "2024-07-01", Min: c(10)})
	got, filled := FillMax(days)
	assert.Equal(t, 1, filled)
	assert.Equal(t, Day{Date: "2024-01-21", Min: c(-10), Max: c(-2), MaxFilled: true}, got[20])
	assert.False(t, days[20].Max.Known(), "the caller's days are not changed")
	assert.False(t, got[21].Min.Known(), "a minimum is never estimated")
	assert.False(t, got[40].Max.Known(), "no other July in the series")
}

// What is usual counts fifteen days to either side, over the turn of the year too.
func TestWhatIsUsualAtATimeOfTheYear(t *testing.T) {
	var days []Day
	for i := range 40 { // 1 January to 9 February: minima of -20 and -10 °C in turn, a range of 6 K
		low := -20 + 10*float64(i%2)
		days = append(days, Day{Date: farm.Day("2024-01-01").Add(i), Min: c(low), Max: c(low + 6)})
	}
	r := RangeOf(days)
	low, ok := r.Low("2023-01-16") // the 31 days from the 1st to the 31st: 16 at -20, 15 at -10
	assert.True(t, ok)
	assert.InDelta(t, (16*-20.0+15*-10)/31, float64(low), 1e-9)
	k, ok := r.On("2023-01-16")
	assert.True(t, ok)
	assert.InDelta(t, 6, float64(k), 1e-9)
	for day, want := range map[farm.Day]bool{"2024-01-05": true, "2024-01-04": false, "2024-02-05": true, "2024-02-06": false, "2024-12-31": false} {
		_, ok := r.Low(day)
		assert.Equal(t, want, ok, "%s: twenty days must be there", day)
	}
	var december []Day
	for i := range 12 {
		december = append(december, Day{Date: farm.Day("2023-12-20").Add(i), Min: c(-10), Max: c(-4)})
	}
	_, ok = RangeOf(append(december, days...)).Low("2024-01-01")
	assert.True(t, ok, "12 days of December and 16 of January")
}
