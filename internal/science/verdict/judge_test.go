package verdict_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

// At 46° N, 92° W the whole hours of sun in mid-November are 8 to 16 local time
// (NOAA solar calculator, from memory), so a mild day's window ends at 16:00.
func TestTheDeadlineIsTheEndOfTheLastWindow(t *testing.T) {
	at := func(day, hour int) time.Time { return local(t, day, hour, 0) }
	for _, c := range []struct {
		name     string
		now      time.Time
		make     func(b *asked)
		state    farm.State
		by       time.Time // zero: none
		danger   time.Time
		night    farm.Day
		lastFrom time.Time
	}{
		{"nothing is lost", at(14, 9), func(*asked) {}, farm.Holds, time.Time{}, time.Time{}, "2025-11-14", time.Time{}},
		{"too few are", at(14, 9), func(b *asked) { b.loses(1, at(16, 4)) }, farm.Holds, time.Time{}, time.Time{}, "2025-11-14", time.Time{}},
		{"two of ten are, on the second night", at(14, 9), func(b *asked) { b.loses(2, at(16, 4)) },
			farm.HarvestBefore, at(15, 16), at(16, 4), "2025-11-15", at(15, 8)},
		{"the share is reached as members follow", at(14, 9), func(b *asked) { b.loses(1, at(15, 5)); b.loses(2, at(17, 3)) },
			farm.HarvestBefore, at(16, 16), at(17, 3), "2025-11-16", at(16, 8)},
		{"leaves stay frozen on the day before", at(14, 9), func(b *asked) { b.frozen(at(15, 0), at(16, 12)); b.loses(10, at(16, 4)) },
			farm.HarvestBefore, at(14, 16), at(16, 4), "2025-11-15", at(14, 9)},
		{"they thaw at noon: from 13 h on", at(14, 9), func(b *asked) { b.frozen(at(14, 17), at(15, 12)); b.loses(10, at(16, 4)) },
			farm.HarvestBefore, at(15, 16), at(16, 4), "2025-11-15", at(15, 13)},
		{"frozen until it is too late", at(14, 9), func(b *asked) { b.frozen(at(14, 0), at(16, 12)); b.loses(10, at(16, 4)) },
			farm.TooLate, time.Time{}, at(16, 4), "2025-11-15", time.Time{}},
		{"danger in daylight cuts its window", at(14, 9), func(b *asked) { b.loses(10, at(15, 13)) },
			farm.HarvestBefore, at(15, 13), at(15, 13), "2025-11-15", at(15, 8)},
		{"danger in the forenoon is of the night before", at(14, 9), func(b *asked) { b.loses(10, at(15, 11)) },
			farm.HarvestBefore, at(15, 11), at(15, 11), "2025-11-14", at(15, 8)},
		{"danger at the first light", at(14, 9), func(b *asked) { b.loses(10, at(15, 8)) },
			farm.HarvestBefore, at(14, 16), at(15, 8), "2025-11-14", at(14, 9)},
		{"a window in progress", local(t, 14, 13, 20), func(b *asked) { b.loses(10, at(15, 4)) },
			farm.HarvestBefore, at(14, 16), at(15, 4), "2025-11-14", at(14, 13)},
		{"its last hour", local(t, 14, 15, 40), func(b *asked) { b.loses(10, at(15, 4)) },
			farm.HarvestBefore, at(14, 16), at(15, 4), "2025-11-14", at(14, 15)},
		{"it has passed", local(t, 14, 16, 1), func(b *asked) { b.loses(10, at(15, 4)) },
			farm.TooLate, time.Time{}, at(15, 4), "2025-11-14", time.Time{}},
		{"danger now", at(14, 9), func(b *asked) { b.loses(10, at(14, 9)) },
			farm.TooLate, time.Time{}, at(14, 9), "2025-11-13", time.Time{}},
		{"danger in an hour", at(14, 9), func(b *asked) { b.loses(10, at(14, 10)) },
			farm.HarvestBefore, at(14, 10), at(14, 10), "2025-11-13", at(14, 9)},
		{"the last hour that can be seen", at(14, 9), func(b *asked) { b.loses(10, at(18, 8)) },
			farm.HarvestBefore, at(17, 16), at(18, 8), "2025-11-17", at(17, 8)},
	} {
		b := bedAt(t, "chard", c.now, 96, 10)
		c.make(b)
		v := b.judge()
		assert.Equal(t, c.state, v.State, c.name)
		assert.Equal(t, c.by.UTC(), when(v.HarvestBefore).UTC(), "%s: harvest before", c.name)
		assert.Equal(t, c.danger.UTC(), when(v.Danger).UTC(), "%s: danger", c.name)
		assert.Equal(t, c.night, v.Night, c.name)
		w, _ := v.LastWindow.Get()
		assert.Equal(t, c.lastFrom.UTC(), w.Start.UTC(), "%s: last window", c.name)
		assert.Equal(t, c.state == farm.HarvestBefore, v.LastWindow.Known(), c.name)
		assert.Empty(t, v.Missing, c.name)
	}
}

// A danger in the night in which the forecast ends is told with its figures.
func TestTheNightInWhichTheForecastEndsHasFigures(t *testing.T) {
	b := bedAt(t, "chard", local(t, 14, 9, 0), 43, 10) // until 4:00 on the 16th
	b.cold(local(t, 16, 0, 0), never, -11).loses(10, local(t, 16, 2, 0))
	v := b.judge()
	require.Equal(t, farm.HarvestBefore, v.State)
	assert.Equal(t, farm.Day("2025-11-15"), v.Night)
	low, ok := v.AirLow.Get()
	assert.True(t, ok, "there are no figures")
	assert.InDelta(t, -7, float64(low), 0.5)
	assert.Len(t, v.Nights, 1, "as a night of its own it is not listed: its morning is not seen")
	assert.Equal(t, unit.Some(1.0), v.Likelihood)
}

func TestWithoutHoursNothingIsJudged(t *testing.T) {
	b := bedAt(t, "chard", local(t, 14, 9, 0), 0, 10)
	v := b.judge()
	assert.Equal(t, farm.Unknown, v.State)
	assert.NotEmpty(t, v.Missing)
	assert.False(t, v.Likelihood.Known(), "no likelihood is not a likelihood of zero")
	none := bedAt(t, "chard", local(t, 14, 9, 0), 24, 0)
	assert.Equal(t, farm.Unknown, none.judge().State)
}

func TestPolarNightLeavesNoWindowAndPolarDayAlwaysOne(t *testing.T) {
	svalbard := microclimate.Site{Latitude: 78.2, Longitude: 15.6, Soil: microclimate.Loam}
	for month, want := range map[time.Month]farm.State{time.December: farm.TooLate, time.June: farm.HarvestBefore} {
		now := time.Date(2025, month, 20, 12, 0, 0, 0, time.UTC)
		b := bedAt(t, "kale-curly", now, 96, 10)
		b.Site, b.Zone = &svalbard, zoneOf(t, "Arctic/Longyearbyen")
		danger := now.Add(50 * time.Hour)
		b.loses(10, danger)
		v := b.judge()
		assert.Equal(t, want, v.State, month)
		if want == farm.HarvestBefore {
			assert.Equal(t, danger, when(v.HarvestBefore), "up to the very hour")
			assert.Len(t, v.Windows, 1)
		}
	}
}

// Cost–loss by purpose (own defaults), or the bed's own.
func TestTheShareThatCountsIsThatOfThePurpose(t *testing.T) {
	for _, c := range []struct {
		lost int // of 20 members
		bed  farm.Bed
		want farm.State
	}{
		{3, farm.Bed{Purpose: farm.Storing}, farm.HarvestBefore}, // 0.15
		{3, farm.Bed{Purpose: farm.Fresh}, farm.Holds},
		{4, farm.Bed{Purpose: farm.Fresh}, farm.HarvestBefore}, // 0.2
		{4, farm.Bed{}, farm.HarvestBefore},                    // as fresh
		{5, farm.Bed{Purpose: farm.Household}, farm.Holds},
		{6, farm.Bed{Purpose: farm.Household}, farm.HarvestBefore}, // 0.3
		{9, farm.Bed{Purpose: farm.Overwinter}, farm.Holds},
		{10, farm.Bed{Purpose: farm.Overwinter}, farm.HarvestBefore}, // 0.5
		{10, farm.Bed{Purpose: farm.Fresh, CostLossSet: unit.Some(0.6)}, farm.Holds},
		{1, farm.Bed{Purpose: farm.Overwinter, CostLossSet: unit.Some(0.05)}, farm.HarvestBefore},
	} {
		b := bedAt(t, "kale-curly", local(t, 14, 9, 0), 96, 20)
		b.Purpose, b.CostLoss = c.bed.Purpose, c.bed.CostLoss()
		v := b.loses(c.lost, local(t, 16, 4, 0)).judge()
		assert.Equal(t, c.want, v.State, "%d of 20, %+v", c.lost, c.bed)
		assert.Equal(t, c.bed.CostLoss(), v.CostLoss)
		p, _ := v.Likelihood.Get()
		assert.InDelta(t, float64(c.lost)/20, p, 1e-9)
	}
}

// Leaves lost and crown alive is an outcome of its own.
func TestAnOverwinteringBedIsJudgedByWhatRegrows(t *testing.T) {
	leavesGo := func(c *bed.Course, h int) { c.Loss[h], c.Life[h] = 1, 0.1 }
	b := bedAt(t, "spinach", local(t, 14, 9, 0), 96, 10)
	b.each(10, local(t, 15, 4, 0), never, leavesGo)
	b.Purpose, b.CostLoss = farm.Overwinter, 0.5
	v := b.judge()
	assert.Equal(t, farm.Holds, v.State)
	assert.Equal(t, crop.Crown, v.Organ)
	assert.Equal(t, unit.Some(1.0), v.Regrowth)
	assert.Equal(t, unit.Some(b.Plant.CrownThreshold(b.Start)), v.Tolerance)

	b.Purpose, b.CostLoss = farm.Fresh, 0.2
	v = b.judge()
	assert.Equal(t, farm.LeafFreeze, v.Cause, "for sale the same leaves are lost")
	assert.Equal(t, unit.Some(1.0), v.Regrowth, "and regrowth is told of")

	b.each(6, local(t, 16, 4, 0), never, func(c *bed.Course, h int) { c.CrownLife[h] = 0.3 })
	b.Purpose, b.CostLoss = farm.Overwinter, 0.5
	v = b.judge()
	assert.Equal(t, farm.CrownFreeze, v.Cause)
	assert.Equal(t, farm.Day("2025-11-15"), v.Night)
	assert.Equal(t, unit.Some(0.4), v.Regrowth)

	kale := bedAt(t, "kale-curly", local(t, 14, 9, 0), 96, 10)
	kale.each(10, local(t, 15, 4, 0), never, func(c *bed.Course, h int) { c.Loss[h], c.Life[h] = 1, 0.9 })
	kale.Purpose, kale.CostLoss = farm.Overwinter, 0.5
	assert.Equal(t, farm.Holds, kale.judge().State, "without a crown the life of the plant counts, not its looks")
	kale.each(10, local(t, 16, 4, 0), never, func(c *bed.Course, h int) { c.Life[h] = 0.5 })
	assert.Equal(t, farm.HarvestBefore, kale.judge().State)
	assert.False(t, kale.judge().Regrowth.Known())
}

// Roots are judged at their shoulder, and by the ground closing for good: half
// of the members, three days and more, and only where they are to be dug.
func TestRoots(t *testing.T) {
	shut := func(c *bed.Course, h int) { c.Frost[h] = bed.UsualCrustCm }
	at := func(day, hour int) time.Time { return local(t, day, hour, 0) }
	for _, c := range []struct {
		name    string
		make    func(b *asked)
		purpose farm.Purpose
		state   farm.State
		cause   farm.Cause
		by      time.Time
	}{
		{"shoulder freezes", func(b *asked) { b.loses(10, at(16, 5)) }, farm.Storing, farm.HarvestBefore, farm.ShoulderFreeze, at(15, 16)},
		{"leaves above do not matter", func(b *asked) { b.loses(10, at(16, 5)).frozen(at(14, 0), never) }, farm.Storing, farm.HarvestBefore, farm.ShoulderFreeze, at(15, 16)},
		{"ground shuts for four days", func(b *asked) { b.each(10, at(16, 2), never, shut) }, farm.Storing, farm.HarvestBefore, farm.GroundFrozen, at(15, 16)},
		{"it thaws by noon every day", func(b *asked) {
			b.each(10, at(14, 0), never, func(c *bed.Course, h int) {
				if b.Hours[h].At.In(b.Zone).Hour() < 12 {
					shut(c, h)
				}
			})
		}, farm.Storing, farm.Holds, "", time.Time{}},
		{"exactly three days count", func(b *asked) { b.each(10, at(17, 9), never, shut) }, farm.Storing, farm.HarvestBefore, farm.GroundFrozen, at(17, 9)},
		{"less than three does not", func(b *asked) { b.each(10, at(17, 10), never, shut) }, farm.Storing, farm.Holds, "", time.Time{}},
		{"nor what opens again at the end", func(b *asked) { b.each(10, at(15, 2), at(20, 8), shut) }, farm.Storing, farm.Holds, "", time.Time{}},
		{"fewer than half of the members", func(b *asked) { b.each(4, at(16, 2), never, shut) }, farm.Storing, farm.Holds, "", time.Time{}},
		{"half of them", func(b *asked) { b.each(5, at(16, 2), never, shut) }, farm.Storing, farm.HarvestBefore, farm.GroundFrozen, at(15, 16)},
		{"an overwintering bed stays", func(b *asked) { b.each(10, at(16, 2), never, shut) }, farm.Overwinter, farm.Holds, "", time.Time{}},
		{"shut before the shoulder freezes: dig while it is open", func(b *asked) { b.each(10, at(15, 2), never, shut).loses(10, at(18, 5)) },
			farm.Storing, farm.HarvestBefore, farm.ShoulderFreeze, at(14, 16)},
		{"shut already", func(b *asked) { b.each(10, at(14, 0), never, shut) }, farm.Storing, farm.TooLate, farm.GroundFrozen, time.Time{}},
		{"snow to dig through", func(b *asked) {
			b.each(10, at(15, 0), never, func(c *bed.Course, h int) { c.Snow[h] = 31 }).loses(10, at(17, 5))
		}, farm.Storing, farm.HarvestBefore, farm.ShoulderFreeze, at(14, 16)},
	} {
		b := bedAt(t, "carrot", at(14, 9), 144, 10)
		b.Purpose, b.CostLoss = c.purpose, c.purpose.CostLoss()
		c.make(b)
		v := b.judge()
		assert.Equal(t, c.state, v.State, c.name)
		assert.Equal(t, c.cause, v.Cause, c.name)
		assert.Equal(t, c.by.UTC(), when(v.HarvestBefore).UTC(), c.name)
	}
}

// Snow hides low leaves long before it stops kale (common practice, no source).
func TestSnowEndsTheHarvestOfLowLeavesFirst(t *testing.T) {
	at := func(day, hour int) time.Time { return local(t, day, hour, 0) }
	for name, want := range map[string]time.Time{"spinach": at(14, 16), "kale-curly": at(16, 16)} {
		b := bedAt(t, name, at(14, 9), 96, 10)
		b.each(10, at(15, 0), never, func(c *bed.Course, h int) { c.Snow[h] = 22 }).loses(10, at(17, 4))
		assert.Equal(t, want.UTC(), when(b.judge().HarvestBefore).UTC(), name)
	}
}

// Half of the members must find an hour workable.
func TestAWindowIsWhatHalfOfTheMembersCanUse(t *testing.T) {
	at := func(day, hour int) time.Time { return local(t, day, hour, 0) }
	for frozen, want := range map[int]time.Time{5: at(15, 16), 6: at(14, 16)} {
		b := bedAt(t, "chard", at(14, 9), 96, 10)
		b.each(frozen, at(15, 0), at(16, 0), func(c *bed.Course, h int) { c.Sold[h] = -1 }).loses(10, at(16, 4))
		assert.Equal(t, want.UTC(), when(b.judge().HarvestBefore).UTC(), "%d of 10 frozen", frozen)
	}
}

// Injury above freezing is told from frost by whether the tissue froze.
func TestChilling(t *testing.T) {
	b := bedAt(t, "basil", local(t, 14, 9, 0), 96, 10)
	b.loses(10, local(t, 16, 4, 0))
	v := b.judge()
	require.Equal(t, farm.Chilling, v.Cause)
	chill, _ := b.Plant.Crop.Chill.Get()
	assert.Equal(t, unit.Some(chill.Below), v.ToleranceThen)

	b.frozen(local(t, 16, 3, 0), local(t, 16, 6, 0))
	v = b.judge()
	assert.Equal(t, farm.LeafFreeze, v.Cause)
	assert.NotEqual(t, unit.Some(chill.Below), v.ToleranceThen)

	b.Start.Lost, b.Start.Low = local(t, 13, 4, 0).Unix(), 3
	assert.Equal(t, farm.Chilling, b.judge().Cause, "already, in a night without frost")
	b.Start.Low = -2
	assert.Equal(t, farm.LeafFreeze, b.judge().Cause)
}

// What is over is over only for what the bed is kept for.
func TestAlreadyLostByWhatTheBedIsFor(t *testing.T) {
	took := local(t, 13, 4, 0)
	for _, c := range []struct {
		name    string
		crop    string
		purpose farm.Purpose
		start   func(s *bed.State)
		lost    bool
		cause   farm.Cause
	}{
		{"quality, for sale", "chard", farm.Fresh, func(s *bed.State) { s.Lost, s.Low = took.Unix(), -9 }, true, farm.LeafFreeze},
		{"quality, of a root", "carrot", farm.Storing, func(s *bed.State) { s.Lost, s.Low = took.Unix(), -9 }, true, farm.ShoulderFreeze},
		{"quality, overwintering", "kale-curly", farm.Overwinter, func(s *bed.State) { s.Lost, s.Low = took.Unix(), -9 }, false, ""},
		{"life, overwintering", "kale-curly", farm.Overwinter, func(s *bed.State) { s.Died = bed.Passing{At: took.Unix(), Low: -9} }, true, farm.LeafFreeze},
		{"leaves of what regrows", "spinach", farm.Overwinter, func(s *bed.State) {
			s.Lost, s.Low, s.Died = took.Unix(), -9, bed.Passing{At: took.Unix(), Low: -9}
		}, false, ""},
		{"its crown", "spinach", farm.Overwinter, func(s *bed.State) { s.CrownDied = bed.Passing{At: took.Unix(), Low: -9} }, true, farm.CrownFreeze},
		{"the crown of what is sold fresh", "spinach", farm.Fresh, func(s *bed.State) { s.CrownDied = bed.Passing{At: took.Unix(), Low: -9} }, false, ""},
	} {
		b := bedAt(t, c.crop, local(t, 14, 9, 0), 96, 10)
		b.Purpose, b.CostLoss = c.purpose, c.purpose.CostLoss()
		c.start(&b.Start)
		v := b.judge()
		assert.Equal(t, c.lost, v.AlreadyLost, c.name)
		assert.Equal(t, c.cause, v.Cause, c.name)
		if c.lost {
			assert.Equal(t, farm.TooLate, v.State, c.name)
			assert.Equal(t, farm.Day("2025-11-12"), v.Night, c.name)
			assert.Equal(t, unit.Some(unit.Celsius(-9)), v.AirLow, c.name)
			assert.Equal(t, unit.Some(1.0), v.Likelihood, c.name)
			assert.False(t, v.HarvestBefore.Known() || v.NothingLeft, c.name)
		}
	}
}

func TestNothingLeft(t *testing.T) {
	b := bedAt(t, "chard", local(t, 14, 9, 0), 96, 10)
	b.Start.Base, b.Start.Sold.Quality, b.Start.Lost = 0, 0, local(t, 13, 11, 0).Unix()
	v := b.judge()
	assert.True(t, v.NothingLeft)
	assert.Equal(t, farm.TooLate, v.State)
	assert.Equal(t, farm.Day("2025-11-12"), v.Night)
	assert.False(t, v.AirLow.Known(), "no figure of the model")

	roots := bedAt(t, "spinach", local(t, 14, 9, 0), 96, 10)
	roots.Start, roots.Purpose = b.Start, farm.Overwinter
	assert.False(t, roots.judge().NothingLeft, "what regrows is judged on")
}
