package plan

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/season"
	"winterstand/internal/unit"
)

// Colder limits never stand shorter, and no chance ever rises.
func TestOrdinaryWinterProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := microclimate.Site{Latitude: rapid.Float64Range(30, 65).Draw(t, "latitude"), ElevationM: rapid.Float64Range(0, 2000).Draw(t, "elevation")}
		limit := rapid.Float64Range(-40, 2).Draw(t, "limit")
		from := farm.Day("2026-08-01").Add(rapid.IntRange(0, 300).Draw(t, "from"))
		hardy, tender := normal(site, limit-3, from), normal(site, limit, from)
		last := 1.0
		for n := 0; n < 250; n += 10 {
			p, q := tender(from.Add(n)), hardy(from.Add(n))
			assert.True(t, p >= 0 && p <= last+1e-12, "%v after %v", p, last)
			assert.GreaterOrEqual(t, q, p-1e-12)
			last = p
		}
	})
}

// The south has its winter half a year later.
func TestTheSouthIsMirrored(t *testing.T) {
	north, south := microclimate.Site{Latitude: 45}, microclimate.Site{Latitude: -45}
	a := normal(north, -8, "2026-09-01")("2026-12-31")
	b := normal(south, -8, "2027-03-02")("2027-07-01")
	assert.InDelta(t, a, b, 0.05)
	assert.Equal(t, farm.Day("2027-04-21"), spring(45, "2026-11-01", 0))
	assert.Equal(t, farm.Day("2026-10-21"), spring(-45, "2026-03-01", 0))
}

// The quantiles of an outlook come back as they were given; a crop that stood in
// some winters keeps that chance to the end.
func TestEndedGoesThroughTheQuantiles(t *testing.T) {
	q := func(share float64, day farm.Day) season.Quantile {
		return season.Quantile{Share: share, Days: unit.Some(season.DayNumber(day))}
	}
	r := season.Row{Winters: 50, OutBy: []season.Quantile{q(0.1, "2026-11-10"), q(0.5, "2026-11-30"), q(0.9, "2026-12-20")}}
	for day, want := range map[farm.Day]float64{"2026-09-01": 0, "2026-11-10": 0.1, "2026-11-20": 0.3, "2026-11-30": 0.5, "2026-12-20": 0.9, "2027-02-01": 1} {
		assert.InDelta(t, want, ended(r, day), 1e-9, day)
	}
	r = season.Row{Winters: 50, Stood: 15, OutBy: []season.Quantile{q(0.1, "2026-11-10"), q(0.5, "2026-11-30"), {Share: 0.9, Stands: true}}}
	assert.InDelta(t, 0.7, ended(r, "2027-06-01"), 1e-9)
	r = season.Row{Winters: 50, Stood: 50, OutBy: []season.Quantile{{Share: 0.1, Stands: true}, {Share: 0.5, Stands: true}, {Share: 0.9, Stands: true}}}
	assert.Zero(t, ended(r, "2027-05-31"))
	assert.Equal(t, 1.0, remembered(r, "2026-11-09")("2027-05-31"))
}

// At 8 °F carrots take damage (common practice, no source).
func TestTheAirOverCarrots(t *testing.T) {
	assert.InDelta(t, float64(unit.FromFahrenheit(8)), over(-1.4), 1.5)
	for soil := -10.0; soil < 0; soil += 0.1 {
		assert.Less(t, over(soil), over(soil+0.1))
	}
}

func TestAStayIsCutFromTheRoomsPast(t *testing.T) {
	at := func(n int) time.Time { return time.Date(2026, 11, n, 0, 0, 0, 0, time.UTC) }
	air := []farm.RoomAir{{From: at(1), Temperature: 1}, {From: at(5), Temperature: 5}, {From: at(9), Temperature: 9}}
	temps := func(from time.Time, until unit.Maybe[time.Time]) (out []unit.Celsius) {
		for _, s := range during(air, from, until) {
			out = append(out, s.Temperature)
		}
		return out
	}
	assert.Equal(t, []unit.Celsius{1, 5, 9}, temps(at(1), unit.None[time.Time]()))
	assert.Equal(t, []unit.Celsius{5, 9}, temps(at(6), unit.None[time.Time]()))
	assert.Equal(t, []unit.Celsius{5}, temps(at(5), unit.Some(at(9))))
	assert.Equal(t, []unit.Celsius{9}, temps(at(20), unit.None[time.Time]()))
	assert.Equal(t, []unit.Celsius{1}, temps(at(1).AddDate(0, -1, 0), unit.Some(at(1).AddDate(0, 0, -3))), "before the room was entered it was as it was then")
}

// A bed that has outlasted nearly every remembered winter is given the chances of the
// last of fifty. Half of the winters had ended it by day 100, nine in ten by day 140;
// the last tenth is as long as half the span before it, 21 days: on day 159 there are
// 2/210 left, on day 160 1/210, and 1/50 counts as one.
func TestABedThatHasOutlastedTheRememberedWinters(t *testing.T) {
	r := season.Row{Winters: 10, OutBy: []season.Quantile{{Share: 0.5, Days: unit.Some(100)}, {Share: 0.9, Days: unit.Some(140)}}}
	day := func(n int) farm.Day {
		for d := farm.Day("2026-08-01"); ; d = d.Add(1) {
			if season.DayNumber(d) == n {
				return d
			}
		}
	}
	late := remembered(r, day(159))
	assert.InDelta(t, 50*2.0/210, late(day(159)), 1e-9)
	assert.InDelta(t, 50*1.0/210, late(day(160)), 1e-9)
	early := remembered(r, day(100))
	assert.InDelta(t, 1, early(day(100)), 1e-9)
	assert.InDelta(t, 0.6, early(day(120)), 1e-9, "three in ten of the five in ten")
	assert.InDelta(t, 0.2, early(day(140)), 1e-9, "one in ten of the five in ten")
}

// The first cut is on 1 April at 40 degrees and four days later for each degree
// towards the pole; one that has passed is next year's.
func TestTheFirstCutOfSpring(t *testing.T) {
	for _, c := range []struct {
		latitude float64
		today    farm.Day
		after    int
		want     farm.Day
	}{{40, "2026-11-01", 0, "2027-04-01"}, {50, "2026-11-01", 0, "2027-05-11"}, {35, "2026-11-01", 0, "2027-03-12"}, {-40, "2026-11-01", 0, "2027-10-01"},
		{40, "2027-03-31", 0, "2027-04-01"}, {40, "2027-04-01", 0, "2028-04-01"}, {40, "2027-04-28", 28, "2027-04-01"}, {40, "2027-04-29", 28, "2028-04-01"}} {
		assert.Equal(t, c.want, spring(c.latitude, c.today, c.after), "%v° on %s", c.latitude, c.today)
	}
}

func TestStraightBetweenPoints(t *testing.T) {
	xs, ys := []float64{10, 20, 20, 40}, []float64{0, 0.2, 0.4, 1}
	for x, want := range map[float64]float64{0: 0, 10: 0, 15: 0.1, 20: 0.2, 30: 0.7, 40: 1, 50: 1} {
		assert.InDelta(t, want, straight(xs, ys, x), 1e-12, "at %v", x)
	}
}
