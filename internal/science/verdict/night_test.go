package verdict_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
)

func nightsOf(v farm.Verdict) []farm.Day {
	var out []farm.Day
	for _, n := range v.Nights {
		out = append(out, n.Night)
	}
	return out
}

// A night is named by the evening it begins and runs from local noon to local
// noon. Coming nights are those whose low can still be seen: in the forenoon
// not the one that is over, at the end not one without its morning.
func TestComingNights(t *testing.T) {
	for _, c := range []struct {
		name        string
		hour, hours int
		want        []farm.Day
	}{
		{"from noon on", 12, 48, []farm.Day{"2025-11-14", "2025-11-15"}},
		{"in the night: still that of the day before", 3, 48, []farm.Day{"2025-11-13", "2025-11-14"}},
		{"at 7 its low may be to come", 7, 30, []farm.Day{"2025-11-13", "2025-11-14"}},
		{"at 8 it is over", 8, 30, []farm.Day{"2025-11-14"}},
		{"in the forenoon", 10, 48, []farm.Day{"2025-11-14", "2025-11-15"}},
		{"ending before the morning", 12, 43, []farm.Day{"2025-11-14"}},
		{"ending with it", 12, 44, []farm.Day{"2025-11-14", "2025-11-15"}},
	} {
		v := bedAt(t, "chard", local(t, 14, c.hour, 0), c.hours, 5).judge()
		assert.Equal(t, c.want, nightsOf(v), c.name)
	}
}

// Clocks change at 2 h: the night of 1 November 2025 has 25 hours in the middle
// of the continent, that of 7 March 2026 has 23.
func TestNightsInWhichClocksChange(t *testing.T) {
	zone := zoneOf(t, "America/Chicago")
	for _, c := range []struct {
		night farm.Day
		hours int
	}{{"2025-11-01", 25}, {"2026-03-07", 23}, {"2025-11-14", 24}} {
		noon, next := c.night.Noon(zone), c.night.Add(1).Noon(zone)
		require.Equal(t, c.hours, int(next.Sub(noon)/time.Hour))
		b := bedAt(t, "chard", noon, 3*24, 5)
		// The first and the last hour of the night belong to it.
		for hour, want := range map[time.Time]farm.Day{
			noon: c.night, next.Add(-time.Hour): c.night, next: c.night.Add(1), noon.Add(13 * time.Hour): c.night, noon.Add(14 * time.Hour): c.night,
		} {
			b := bedAt(t, "chard", noon, 3*24, 5)
			v := b.loses(5, hour).judge()
			assert.Equal(t, want, v.Night, "%s in the night of %s", hour.In(zone), c.night)
		}
		assert.Equal(t, []farm.Day{c.night, c.night.Add(1), c.night.Add(2)}, nightsOf(b.judge()), c.night)
	}
}

// Where clocks go forward at midnight, half past midnight of that day does not
// exist; the night before it has its name all the same.
func TestNightsWhereMidnightIsSkipped(t *testing.T) {
	zone := zoneOf(t, "America/Santiago") // forward at the end of 6 September 2025
	at := time.Date(2025, 9, 8, 0, 30, 0, 0, zone)
	require.Equal(t, "2025-09-08 00:30", at.Format("2006-01-02 15:04"))
	assert.Equal(t, farm.Day("2025-09-07"), farm.NightOf(at, zone))
	for h := range 24 * 4 {
		at := farm.Day("2025-09-05").Noon(zone).Add(time.Duration(h) * time.Hour)
		night := farm.NightOf(at, zone)
		assert.False(t, at.Before(night.Noon(zone)), at)
		assert.True(t, at.Before(night.Add(1).Noon(zone)), at)
	}
}

// Figures of a night are those of its own hours: medians of the members' lows.
func TestFiguresOfANight(t *testing.T) {
	b := bedAt(t, "chard", local(t, 14, 12, 0), 72, 11)
	b.cold(local(t, 15, 3, 0), local(t, 15, 6, 0), -12) // members -12 … -2
	b.cold(local(t, 16, 6, 0), local(t, 16, 7, 0), -8)
	b.loses(3, local(t, 15, 5, 0)).loses(6, local(t, 16, 6, 0))
	v := b.judge()
	require.Len(t, v.Nights, 3)
	first, second := v.Nights[0], v.Nights[1]
	assert.EqualValues(t, -7, first.AirLow)
	assert.EqualValues(t, -11, first.AirP10, "2nd of 11")
	assert.EqualValues(t, -8, first.TissueLow)
	assert.EqualValues(t, -12, first.TissueP10)
	assert.EqualValues(t, -8, first.Tolerance)
	assert.Equal(t, local(t, 15, 3, 0).UTC(), first.AirLowAt)
	assert.Equal(t, local(t, 16, 6, 0).UTC(), second.AirLowAt)
	assert.InDelta(t, 3.0/11, first.Likelihood, 1e-9)
	assert.InDelta(t, 6.0/11, second.Likelihood, 1e-9, "cumulative")
	assert.InDelta(t, 6.0/11, v.Nights[2].Likelihood, 1e-9)
	assert.Equal(t, farm.Day("2025-11-14"), v.Night, "3 of 11 reach 0.2")
	assert.Equal(t, unit.Some(unit.Celsius(-12)), v.TissueLowP10)
	assert.InDelta(t, 3.0/11, v.Likelihood.Else(9), 1e-9)
}

// A bed that holds tells of the night that comes closest to what it stands.
func TestTheClosestNight(t *testing.T) {
	b := bedAt(t, "chard", local(t, 14, 12, 0), 96, 5)
	b.cold(local(t, 15, 4, 0), local(t, 15, 7, 0), -5)
	b.cold(local(t, 17, 4, 0), local(t, 17, 7, 0), -3)
	b.each(5, local(t, 16, 12, 0), never, func(c *bed.Course, h int) { c.Threshold[h] = -4 }) // softened by a warm day
	v := b.judge()
	require.Equal(t, farm.Holds, v.State)
	assert.Equal(t, farm.Day("2025-11-16"), v.Night)
	assert.EqualValues(t, -1, v.AirLow.Else(9))
}

func TestOutlook(t *testing.T) {
	b := bedAt(t, "chard", local(t, 14, 12, 0), 48, 11)
	b.cold(local(t, 15, 3, 0), local(t, 15, 6, 0), -12)
	hours := verdict.Outlook(b.Question)
	require.Len(t, hours, 48)
	windows := b.judge().Windows
	for i, h := range hours {
		assert.Equal(t, b.Hours[i].At, h.At)
		assert.LessOrEqual(t, h.AirP10, h.AirP50)
		assert.LessOrEqual(t, h.AirP50, h.AirP90)
		assert.LessOrEqual(t, h.TissueP10, h.TissueP50)
		assert.LessOrEqual(t, h.TissueP50, h.TissueP90)
		in := false
		for _, w := range windows {
			in = in || !h.At.Before(w.Start) && h.At.Before(w.End)
		}
		assert.Equal(t, in, h.Workable, h.At)
	}
	coldest := hours[15]
	assert.EqualValues(t, -11, coldest.AirP10)
	assert.EqualValues(t, -7, coldest.AirP50)
	assert.EqualValues(t, -3, coldest.AirP90)
	assert.EqualValues(t, 4, coldest.Soil5)
}
