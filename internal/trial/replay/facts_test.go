package replay_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/trial/replay"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// The facts of this file are common practice, no source. Temperatures in them
// are air lows at 2 m as a grower reads them. A leaf on a clear calm night runs
// 2 K or more below that and on a windy one hardly at all; the nights here are
// the ordinary ones between, partly cloudy with a light wind.
const (
	someCloud = 0.6
	lightWind = 3.0 // m/s at 10 m
	dampAir   = 2.0 // K between air and dew point
)

// course is weather hour by hour, from 1 August on.
type course struct {
	hours  []weather.Hour
	snowCm float64 // on the ground
}

func (c *course) next() time.Time {
	if len(c.hours) == 0 {
		return time.Date(2024, 8, 1, 12, 0, 0, 0, time.UTC)
	}
	return c.hours[len(c.hours)-1].At.Add(time.Hour)
}

func (c *course) add(air float64) {
	c.hours = append(c.hours, weather.Hour{
		At: c.next(), Air: unit.Some(unit.Celsius(air)), DewPoint: unit.Some(unit.Celsius(air - dampAir)),
		Cloud: unit.Some(someCloud), Wind: unit.Some(lightWind), Precip: unit.Some(0.0), SnowDepth: unit.Some(c.snowCm),
	})
}

// autumn is an ordinary one of the upper Great Lakes up to a noon: a yearly wave,
// the days 4 K above their mean and the nights 4 K below. The first frosts come
// at the end of September, the ground begins to freeze in the middle of November.
func autumn(month time.Month, day int) *course {
	c := &course{}
	for end := time.Date(2024, month, day, 12, 0, 0, 0, time.UTC); c.next().Before(end); {
		at := c.next()
		mean := 5.5 - 15*math.Cos(2*math.Pi*(float64(at.YearDay())-20)/365)
		c.add(mean + 4*math.Cos(2*math.Pi*float64(at.Hour()-20)/24))
	}
	return c
}

// nights are days from noon to noon with a high and a low in °F: the high at 20 h
// UTC, the low at 12 h, which is afternoon and dawn at the place.
func (c *course) nights(n int, highF, lowF float64) *course {
	high, low := float64(unit.FromFahrenheit(highF)), float64(unit.FromFahrenheit(lowF))
	for range n {
		last, _ := c.hours[len(c.hours)-1].Air.Get()
		from := float64(last)
		for h := range 24 {
			switch {
			case h < 8:
				c.add(from + (high-from)*(1-math.Cos(math.Pi*float64(h+1)/8))/2)
			default:
				c.add(low + (high-low)*(1+math.Cos(math.Pi*float64(h-7)/16))/2)
			}
		}
	}
	return c
}

// snow lies on the bed from here on.
func (c *course) snow(cm float64) *course {
	c.snowCm = cm
	return c
}

// fate plays a crop and gives the last row.
func fate(t *testing.T, name string, c *course, change ...func(*replay.Bed)) replay.Row {
	t.Helper()
	rows := fates(t, name, c, change...)
	return rows[len(rows)-1]
}

func fates(t *testing.T, name string, c *course, change ...func(*replay.Bed)) []replay.Row {
	t.Helper()
	b := bedOf(t, name)
	b.Start = unit.Some(b.Crop.Sold.Unhardened)
	for _, f := range change {
		f(b)
	}
	return play(t, b, c.hours, nil)
}

func TestChardStandsToTwentyInANormalAutumn(t *testing.T) {
	r := fate(t, "chard", autumn(11, 10).nights(1, 40, 20))
	assert.Greater(t, r.Survival, 0.95)
	assert.Greater(t, r.Quality, 1-bed.LossShare, "not lost")
}

func TestStraightFromMildToEightChardIsLost(t *testing.T) {
	r := fate(t, "chard", autumn(9, 20).nights(1, 55, 8))
	assert.Less(t, r.Survival, 0.05)
	assert.Zero(t, r.Quality)
}

// slow is lows of 27 °F, two weeks later 23 °F, two weeks later 15 °F, with
// light frosts on the nights between.
func slow() *course {
	return autumn(10, 10).nights(1, 50, 27).nights(13, 46, 31).nights(1, 44, 23).nights(13, 42, 28).nights(1, 38, 15)
}

func TestChardComesThroughASlowCourse(t *testing.T) {
	rows := fates(t, "chard", slow())
	r := rows[len(rows)-1]
	assert.Greater(t, r.Survival, 0.85)
	coldest := replay.Daily(rows[len(rows)-24:])
	assert.InDelta(t, 15, coldest.Air.Fahrenheit(), 0.1)
	assert.InDelta(t, -1, float64(coldest.Leaf-coldest.Air), 0.7, "the leaf on such a night, against the 1 K that lists are lowered by")
}

func TestKaleStandsToFifteenAndIsTougherThanChardSpinachTougherStill(t *testing.T) {
	r := fate(t, "kale-curly", autumn(11, 10).nights(1, 40, 15))
	assert.Greater(t, r.Survival, 0.95)
	assert.Greater(t, r.Quality, 1-bed.LossShare)
	for i, before := range []func() *course{
		func() *course { return autumn(9, 20) }, func() *course { return autumn(10, 20) }, func() *course { return autumn(11, 10) },
	} {
		for _, low := range []float64{23, 20, 15, 12, 8} {
			chard, kale, spinach := fate(t, "chard", before().nights(1, 40, low)), fate(t, "kale-curly", before().nights(1, 40, low)), fate(t, "spinach", before().nights(1, 40, low))
			assert.GreaterOrEqual(t, kale.Survival, chard.Survival, low)
			if i > 0 {
				assert.GreaterOrEqual(t, spinach.Survival+1e-9, kale.Survival, "%v °F, once hardened", low)
			}
		}
	}
}

// Spinach freezes solid at 20 to 15 °F, cannot be cut then, and is fine after.
func TestSpinachFreezesSolidAndIsFineOnceThawed(t *testing.T) {
	for _, low := range []float64{20, 15} {
		rows := fates(t, "spinach", autumn(11, 10).nights(1, 40, low).nights(1, 50, 36))
		r := rows[len(rows)-1]
		assert.Greater(t, r.Quality, 0.95, low)
		workable := 0
		for _, row := range rows[len(rows)-48:] {
			if row.Leaf <= 0 {
				assert.False(t, row.Workable, row.At)
			}
			if row.Workable {
				workable++
			}
		}
		assert.Positive(t, workable, "before it and after it there are windows")
	}
	small, big := fate(t, "spinach-small", autumn(11, 10).nights(1, 40, 5)), fate(t, "spinach", autumn(11, 10).nights(1, 40, 5))
	assert.Greater(t, small.Survival, big.Survival, "small plants are tougher than big")
}

// stateOf plays a crop through the service's own book.
func stateOf(t *testing.T, name string, c *course) bed.State {
	t.Helper()
	plants := []bed.Plant{{Crop: named(t, name)}}
	class := replay.Plain(site, plants[0].Crop, microclimate.NoCover, 0)
	book := bed.NewBook(&class, plants, c.hours[0].At)
	require.NoError(t, book.Advance(&class, plants, c.hours))
	return book.Plants[plants[0].Key()]
}

// A winter of −20 °F under thin snow: the leaves are lost, the crown lives.
func TestSpinachRegrowsAfterTwentyBelow(t *testing.T) {
	winter := func(cm float64) *course {
		return autumn(11, 25).snow(cm).nights(20, 28, 14).nights(5, 5, -20).nights(20, 28, 14)
	}
	s := stateOf(t, "spinach", winter(10))
	assert.Less(t, s.Sold.Survival, 0.2, "leaves")
	assert.Greater(t, s.Crown.Survival, 0.9, "crown")
	assert.Less(t, stateOf(t, "spinach", winter(0)).Crown.Survival, 0.2, "without snow the crown is gone too")
}

func TestBunchingOnionsSpoilOutsideFirst(t *testing.T) {
	for _, name := range []string{"bunching-onion", "bunching-onion-hardy"} {
		r := fate(t, name, autumn(11, 10).nights(1, 40, 20))
		assert.Greater(t, r.Survival, 0.9, name)
		r = fate(t, name, autumn(11, 10).nights(1, 40, 15))
		assert.Less(t, r.Quality, r.Survival, "damage before kill")
		assert.Greater(t, stateOf(t, name, autumn(11, 10).nights(1, 40, 5)).Crown.Survival, 0.9, "regrows")
	}
}

func TestDillAndCilantroToTwentyParsleyTougher(t *testing.T) {
	for _, low := range []float64{20, 18, 15, 12} {
		dill, cilantro, parsley := fate(t, "dill", autumn(11, 10).nights(1, 40, low)), fate(t, "cilantro", autumn(11, 10).nights(1, 40, low)), fate(t, "parsley", autumn(11, 10).nights(1, 40, low))
		assert.GreaterOrEqual(t, cilantro.Survival, dill.Survival, low)
		assert.GreaterOrEqual(t, parsley.Survival, cilantro.Survival, low)
		if low == 20 {
			assert.Greater(t, dill.Quality, 1-bed.LossShare, "stands to about 20 °F")
		}
	}
	assert.Less(t, fate(t, "cilantro", autumn(11, 10).nights(1, 40, 12)).Survival, 0.2, "and not far below")
}

// Carrots take a little damage in the top 2.5 cm once the air goes below about
// 8 °F over ground without mulch or snow; far below that they must be out; snow
// and straw keep them.
func TestCarrots(t *testing.T) {
	night := func(low float64) *course { return autumn(11, 20).nights(1, 36, low) }
	assert.InDelta(t, 1, fate(t, "carrot", night(15)).Quality, 1e-9, "15 °F does nothing")
	little := fate(t, "carrot", night(8)).Quality
	assert.Less(t, little, 1.0, "8 °F: the first damage")
	assert.Greater(t, little, 1-bed.LossShare, "and a little only")
	assert.Less(t, fate(t, "carrot", night(0)).Quality, 1-bed.LossShare, "0 °F: should have been out")
	assert.Less(t, fate(t, "carrot", night(-10)).Quality, 0.05, "-10 °F: lost")

	straw := func(b *replay.Bed) { b.Class.Spans[0].MulchCm = 15 }
	assert.InDelta(t, 1, fate(t, "carrot", night(-10), straw).Quality, 1e-9, "under 15 cm of straw")
	assert.InDelta(t, 1, fate(t, "carrot", autumn(11, 20).snow(20).nights(1, 30, -10)).Quality, 1e-9, "under 20 cm of snow")
}

// Frozen ground ends the digging before the roots are harmed.
func TestFrozenGroundEndsTheDigging(t *testing.T) {
	rows := fates(t, "carrot", autumn(11, 20).nights(4, 30, 22))
	shut := rows[len(rows)-24:]
	for _, r := range shut {
		assert.False(t, r.Workable, "%s: %.1f cm of crust", r.At, r.FrozenCm)
	}
	assert.Greater(t, shut[0].Quality, 0.9)
}

// firstLoss is the first day on which more than a fifth of a crop is lost.
func firstLoss(t *testing.T, name string, c *course) time.Time {
	t.Helper()
	for _, r := range fates(t, name, c) {
		if 1-r.Quality > bed.LossShare {
			return r.At
		}
	}
	return time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
}

func TestRadishesMustComeInFirst(t *testing.T) {
	radish := firstLoss(t, "radish", autumn(12, 31))
	assert.Less(t, radish.Year(), 9999)
	for _, name := range []string{"beet", "turnip", "rutabaga", "carrot", "parsnip"} {
		assert.True(t, radish.Before(firstLoss(t, name, autumn(12, 31))), name)
	}
}

func TestTomatoesDieAtTheFirstFrost(t *testing.T) {
	assert.Greater(t, fate(t, "tomato", autumn(9, 10).nights(1, 60, 36)).Survival, 0.95)
	assert.Less(t, fate(t, "tomato", autumn(9, 10).nights(1, 60, 31)).Quality, 1-bed.LossShare, "31 °F: it had to be out")
	assert.Less(t, fate(t, "tomato", autumn(9, 10).nights(1, 60, 28)).Survival, 0.05, "28 °F: dead")
}

// Snow over the crop slows the harvest of low leaves long before it stops kale.
func TestSnowHidesLowLeavesFirst(t *testing.T) {
	workable := func(name string, cm float64) bool {
		rows := fates(t, name, autumn(11, 10).snow(cm).nights(1, 45, 34).nights(1, 45, 34))
		return replay.Daily(rows[len(rows)-24:]).Workable
	}
	assert.True(t, workable("spinach", 0))
	assert.False(t, workable("spinach", 20))
	assert.True(t, workable("kale-curly", 20))
}
