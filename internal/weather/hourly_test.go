package weather

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
)

var t0 = time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC)

func hour(n int) time.Time { return t0.Add(time.Duration(n) * time.Hour) }

// iv is a known value from hour a to hour b after t0.
func iv(a, b int, v float64) Interval {
	return Interval{Start: hour(a), End: hour(b), Value: unit.Some(v)}
}

func hourly(values ...float64) (out []Interval) {
	for i, v := range values {
		out = append(out, iv(i, i+1, v))
	}
	return out
}

func with(layers map[Quantity][]Interval) Forecast { return Forecast{Layers: layers} }

func airOf(hours []Hour) (out []float64) {
	for _, h := range hours {
		out = append(out, float64(h.Air.Else(unit.Celsius(math.NaN()))))
	}
	return out
}

func TestHoursAreContiguousAndMissingStaysMissing(t *testing.T) {
	f := with(map[Quantity][]Interval{Air: {iv(1, 2, -3), iv(2, 3, -4), {Start: hour(3), End: hour(4)}, iv(4, 5, -6)}})
	hours := Hours(f, hour(0).Add(20*time.Minute), hour(6).Add(time.Second))
	require.Len(t, hours, 7, "the first and last hour are begun")
	for i, h := range hours {
		assert.Equal(t, hour(i), h.At)
		assert.Equal(t, i == 1 || i == 2 || i == 4, h.Air.Known(), "hour %d", i)
		assert.False(t, h.DewPoint.Known() || h.Wind.Known() || h.Cloud.Known() || h.Precip.Known() || h.SnowDepth.Known() || h.Shortwave.Known())
	}
	assert.Equal(t, []Span{{hour(0), hour(1)}, {hour(3), hour(4)}, {hour(5), hour(7)}}, Holes(hours, hour(0), hour(7)))
	assert.Equal(t, []Span{{hour(0), hour(2)}}, Holes(nil, hour(0), hour(2)))
	assert.Empty(t, Hours(f, hour(3), hour(3)))
	assert.Empty(t, Hours(f, hour(3), hour(2)))
}

func TestNaNIsAHole(t *testing.T) {
	f := with(map[Quantity][]Interval{
		Air: {iv(0, 1, math.NaN()), iv(1, 2, 1)}, AirMin: {iv(0, 2, -3)}, Precip: {iv(0, 1, math.NaN())}, Shortwave: {iv(0, 1, math.Inf(1))},
	})
	hours := Hours(f, hour(0), hour(2))
	assert.False(t, hours[0].Air.Known() || hours[0].Precip.Known() || hours[0].Shortwave.Known())
	assert.Equal(t, unit.Some(unit.Celsius(-3)), hours[1].Air, "and does not hide the minimum")
	assert.Equal(t, []Span{{hour(0), hour(1)}}, Holes(hours, hour(0), hour(2)))
}

func TestSixHourStepsAreInterpolated(t *testing.T) {
	f := with(map[Quantity][]Interval{
		Air:      {iv(0, 6, 6), iv(6, 12, -6), iv(12, 13, 0)},
		Wind:     {iv(0, 6, 1), {Start: hour(6), End: hour(12)}},
		Humidity: {iv(0, 6, 1), iv(6, 12, 1)},
	})
	assert.InDeltaSlice(t, []float64{6, 4, 2, 0, -2, -4, -6, -5, -4, -3, -2, -1, 0}, airOf(Hours(f, hour(0), hour(13))), 1e-9)
	hours := Hours(f, hour(0), hour(13))
	assert.Equal(t, unit.Some(1.0), hours[5].Wind, "nothing follows: held")
	assert.False(t, hours[6].Wind.Known())
	assert.InDelta(t, 2, float64(hours[2].DewPoint.Else(99)), 1e-9, "saturated: the dew point is the air's")
}

func TestTotalsAreSpreadEvenly(t *testing.T) {
	f := with(map[Quantity][]Interval{Precip: {iv(0, 1, 0.5), iv(1, 7, 6), {Start: hour(7), End: hour(8)}}})
	hours := Hours(f, hour(0), hour(9))
	assert.Equal(t, unit.Some(0.5), hours[0].Precip)
	for i := 1; i < 7; i++ {
		assert.InDelta(t, 1, hours[i].Precip.Else(-1), 1e-9)
	}
	assert.False(t, hours[7].Precip.Known(), "null is not zero")
	assert.False(t, hours[8].Precip.Known())
	half := []Interval{{Start: hour(0).Add(30 * time.Minute), End: hour(2), Value: unit.Some(3.0)}}
	got := totals(half, gridOver(hour(0), hour(2)))
	assert.False(t, got[0].Known(), "only half of it is known")
	assert.InDelta(t, 2, got[1].Else(-1), 1e-9)
}

// The night minimum bends its window down, and nothing else.
func TestMinimumBendsItsWindow(t *testing.T) {
	for _, c := range []struct {
		name    string
		air     []float64
		window  Interval
		lowest  int
		minimum float64
	}{
		{"colder than the hours", []float64{2, 1, 0, -1, -2, -1, 0, 1, 2, 3}, iv(2, 8, -4), 4, -4},
		{"lowest at the window's start", []float64{2, 1, -3, -1, 0, 1, 1, 1, 2, 3}, iv(2, 8, -4), 2, -4},
		{"lowest at the window's end", []float64{2, 1, 0, 0, -1, -2, -3, -4, 2, 3}, iv(2, 8, -5), 7, -5},
		{"warmer than the hours: left alone", []float64{2, 1, 0, -1, -2, -1, 0, 1, 2, 3}, iv(2, 8, 0), 4, -2},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := with(map[Quantity][]Interval{Air: hourly(c.air...), AirMin: {c.window}})
			got := airOf(Hours(f, hour(0), hour(10)))
			assert.InDelta(t, c.minimum, got[c.lowest], 1e-9)
			for i, v := range got {
				assert.LessOrEqual(t, v, c.air[i], "never up, hour %d", i)
				if i < 2 || i >= 8 {
					assert.Equal(t, c.air[i], v, "outside the window, hour %d", i)
				} else {
					assert.GreaterOrEqual(t, v, c.minimum)
				}
			}
		})
	}
}

// The MPX night of 17–18 January 2024: coldest hour −15.0 °C, stated minimum
// −17.2 °C (real document, see internal/forecast/nws).
func TestBendIsSmooth(t *testing.T) {
	air := []float64{-10, -11, -12, -13, -14, -14.5, -15, -14.5, -14, -13, -12, -11}
	got := airOf(Hours(with(map[Quantity][]Interval{Air: hourly(air...), AirMin: {iv(0, 12, -17.2)}}), hour(0), hour(12)))
	// A raised cosine of 2.2 K over six hours curves by 2.2·π²/(2·36) = 0.30 K/h².
	for i := 1; i < len(got)-1; i++ {
		bendBefore := math.Abs((air[i+1] - 2*air[i] + air[i-1]))
		assert.Less(t, math.Abs(got[i+1]-2*got[i]+got[i-1]), bendBefore+0.35, "no kink at hour %d", i)
	}
	assert.InDelta(t, air[0], got[0], 0.15, "fades at the edges")
	assert.InDelta(t, air[11], got[11], 0.2)
}

func TestTailWindowMakesItsHours(t *testing.T) {
	// As in the FGZ document: the hours end at 01 UTC, the window is 02–16 UTC.
	f := with(map[Quantity][]Interval{Air: hourly(5, 3), AirMin: {iv(3, 17, -8.3)}})
	hours := Hours(f, hour(0), hour(20))
	assert.Equal(t, []Span{{hour(17), hour(20)}}, Holes(hours, hour(0), hour(20)), "the hour between is bridged, nothing beyond the window is made")
	got := airOf(hours)[:17]
	low, at := got[0], 0
	for i, v := range got {
		if v < low {
			low, at = v, i
		}
	}
	assert.InDelta(t, -8.3, low, 1e-9)
	assert.Equal(t, 15, at, "two hours before the window ends, near sunrise")
	for i := 1; i < len(got); i++ {
		assert.Equal(t, i <= at, got[i] < got[i-1], "falls to the minimum, then climbs: hour %d", i)
	}
}

func TestTailWindowCases(t *testing.T) {
	for _, c := range []struct {
		name   string
		air    []Interval
		window Interval
		want   []float64 // NaN: missing
	}{
		{"too far from the last hour", hourly(5, 3), iv(6, 9, -8), []float64{5, 3, nan, nan, nan, nan, nan, nan, nan}},
		{"no hours at all: nothing is made up", nil, iv(0, 4, -8), []float64{nan, nan, nan, nan}},
		{"already colder: flat at the minimum", hourly(-9), iv(1, 5, -8), []float64{-9, -8, -8, -8, -8}},
		{"already reached: held", hourly(1, 0, -3), iv(0, 7, -3), []float64{1, 0, -3, -3, -3, -3, -3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := with(map[Quantity][]Interval{Air: c.air, AirMin: {c.window}})
			got := airOf(Hours(f, hour(0), hour(len(c.want))))
			for i := range c.want {
				if math.IsNaN(c.want[i]) {
					assert.True(t, math.IsNaN(got[i]), "hour %d", i)
					continue
				}
				assert.InDelta(t, c.want[i], got[i], 1e-9, "hour %d", i)
			}
		})
	}
}

var nan = math.NaN()

func TestTailWindowPastItsUsualMinimum(t *testing.T) {
	air := []float64{5, 4, 3, 2, 1, 0, -1, -2, -3, -4, -5, -4, -3} // 13 of the 14 hours
	got := airOf(Hours(with(map[Quantity][]Interval{Air: hourly(air...), AirMin: {iv(0, 14, -7)}}), hour(0), hour(15)))
	assert.InDelta(t, -7, got[10], 1e-9, "the hours that are there are bent")
	assert.Equal(t, got[12], got[13], "the rest keeps the last one's value")
	assert.True(t, math.IsNaN(got[14]))
}

func TestSpreadMovesWithTheBend(t *testing.T) {
	f := with(map[Quantity][]Interval{
		Air: {iv(0, 6, 2), iv(6, 12, 0)}, AirP10: {iv(0, 6, 1), iv(6, 12, -2)}, AirP90: {iv(0, 6, 3)},
		AirMin: {iv(0, 6, -1)},
	})
	hours, spread := Hours(f, hour(0), hour(8)), Spreads(f, hour(0), hour(8))
	require.Len(t, spread, 8)
	plain := airOf(Hours(with(map[Quantity][]Interval{Air: f.Layers[Air]}), hour(0), hour(8)))
	for i := range hours {
		shift := float64(hours[i].Air.Else(99)) - plain[i]
		if i < 6 {
			assert.InDelta(t, 1-0.5*float64(i)+shift, float64(spread[i].P10.Else(99)), 1e-9)
			assert.InDelta(t, 3+shift, float64(spread[i].P90.Else(99)), 1e-9)
		}
	}
	assert.InDelta(t, -2, float64(spread[6].P10.Else(99)), 1e-9)
	assert.False(t, spread[7].P90.Known())
}

func TestMemberCourse(t *testing.T) {
	m := Member{Name: "control", Air: hourly(1, 2)}
	got := m.Course(hour(0), hour(3))
	require.Len(t, got, 3)
	assert.Equal(t, unit.Some(unit.Celsius(2)), got[1])
	assert.False(t, got[2].Known())
}

// Dew points by the WMO form of the Magnus formula lie within 0.1 K of these.
func TestDewPoint(t *testing.T) {
	for _, c := range []struct {
		air      unit.Celsius
		humidity float64
		want     float64
		source   string
	}{
		{20, 0.5, 9.26, "Lawrence 2005, BAMS 86, 225–233: 20 °C and 50 % give 9.3 °C (from memory)"},
		{25, 1, 25, "definition"},
		{-13.3, 0.66045902263648, -18.3, "KMSP 2024-01-12 15:53Z, NWS observation"},
		{6.7, 0.39589911099907, -6.1, "KFLG 2024-02-20 17:57Z, NWS observation"},
	} {
		got, ok := DewPointOf(c.air, c.humidity).Get()
		require.True(t, ok)
		assert.InDelta(t, c.want, float64(got), 0.1, c.source)
	}
	for _, bad := range []float64{0, -0.1, math.NaN()} {
		assert.False(t, DewPointOf(5, bad).Known(), "%v", bad)
	}
	assert.False(t, DewPointOf(unit.Celsius(math.NaN()), 0.5).Known())
	assert.InDelta(t, 6.1094, SaturationPressure(0), 1e-9, "Alduchov and Eskridge 1996, by construction")
	assert.InDelta(t, 23.39, SaturationPressure(20), 0.1, "steam tables: 23.39 hPa at 20 °C (from memory)")
}

func TestDewPointNeverExceedsTheBentAir(t *testing.T) {
	f := with(map[Quantity][]Interval{Air: hourly(1, 0, 1), DewPoint: hourly(-1, -1, -1), AirMin: {iv(0, 3, -5)}})
	for _, h := range Hours(f, hour(0), hour(3)) {
		assert.LessOrEqual(t, h.DewPoint.Else(99), h.Air.Else(-99))
	}
}

// Whatever the course and the windows: an hour that was known is never warmer
// for a window, never colder than its own minimum unless it was, and a colder
// minimum never gives a warmer hour.
func TestColderMinimumIsNeverWarmer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air := rapid.SliceOfN(rapid.Float64Range(-30, 20), 1, 40).Draw(t, "air")
		first := rapid.IntRange(0, len(air)+2).Draw(t, "first")
		length := rapid.IntRange(1, 20).Draw(t, "length")
		minimum := rapid.Float64Range(-40, 20).Draw(t, "minimum")
		colder := minimum - rapid.Float64Range(0, 10).Draw(t, "by")
		at := func(m float64) []Hour {
			return Hours(with(map[Quantity][]Interval{Air: hourly(air...), AirMin: {iv(first, first+length, m)}}), hour(0), hour(len(air)+30))
		}
		warm, cold := at(minimum), at(colder)
		bare := Hours(with(map[Quantity][]Interval{Air: hourly(air...)}), hour(0), hour(len(air)+30))
		lowest := math.Inf(1)
		for i := range warm {
			w, okW := warm[i].Air.Get()
			c, okC := cold[i].Air.Get()
			b, okB := bare[i].Air.Get()
			if okW != okC || okB && !okW {
				t.Fatalf("hour %d: known %v %v %v", i, okB, okW, okC)
			}
			if okB && w > b+1e-9 {
				t.Fatalf("hour %d: bent up from %v to %v", i, b, w)
			}
			if okB && (i < first || i >= first+length) && w != b {
				t.Fatalf("hour %d: changed outside the window", i)
			}
			if okW && i >= first && i < first+length {
				lowest = min(lowest, float64(w))
			}
			if okB && c > w+1e-9 {
				t.Fatalf("hour %d: a colder minimum gave %v instead of %v", i, c, w)
			}
		}
		if first < len(air) && lowest > minimum+1e-9 {
			t.Fatalf("the minimum %v is not reached: %v", minimum, lowest)
		}
	})
}

// The hours do not depend on the span they are asked for.
func TestHoursAreTheSameForEverySpan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var air, mins []Interval
		for at := 0; at < 100; {
			n := rapid.IntRange(1, 6).Draw(t, "length")
			piece := iv(at, at+n, rapid.Float64Range(-20, 10).Draw(t, "air"))
			if rapid.IntRange(0, 4).Draw(t, "null") == 0 {
				piece.Value = unit.None[float64]()
			}
			air, at = append(air, piece), at+n
		}
		for at := rapid.IntRange(0, 20).Draw(t, "first"); at < 110; at += 24 {
			mins = append(mins, iv(at, at+14, rapid.Float64Range(-25, 5).Draw(t, "minimum")))
		}
		f := with(map[Quantity][]Interval{Air: air, AirMin: mins})
		all := Hours(f, hour(-10), hour(130))
		from := rapid.IntRange(-10, 129).Draw(t, "from")
		to := rapid.IntRange(from+1, 130).Draw(t, "to")
		for i, h := range Hours(f, hour(from), hour(to)) {
			if h != all[from+10+i] {
				t.Fatalf("%s: %v and %v", h.At, h.Air, all[from+10+i].Air)
			}
		}
	})
}

// The sun is held through its interval and not known a minute longer.
func TestTheSunIsHeldToTheEndOfItsInterval(t *testing.T) {
	f := with(map[Quantity][]Interval{Air: hourly(1, 2, 3, 4), Shortwave: {iv(0, 2, 120), iv(3, 4, 80)}})
	var got []unit.Maybe[float64]
	for _, h := range Hours(f, hour(-1), hour(5)) {
		got = append(got, h.Shortwave)
	}
	none := unit.None[float64]()
	assert.Equal(t, []unit.Maybe[float64]{none, unit.Some(120.0), unit.Some(120.0), none, unit.Some(80.0), none}, got)
}
