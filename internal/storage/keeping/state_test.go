package keeping

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

func keeper(t testing.TB, key, in string) Keeper {
	t.Helper()
	k, err := book(t).Keeper(key, "", in)
	require.NoError(t, err)
	return k
}

func after(t testing.TB, k Keeper, s State, hours float64, c Climate) State {
	t.Helper()
	s, err := k.After(s, hours, c)
	require.NoError(t, err)
	return s
}

func TestRoomReadingsMoveBothClocks(t *testing.T) {
	k := keeper(t, "carrot", "crate")
	cool := after(t, k, State{}, 240, climate(farm.ColdStore, 1, 0.95))
	warm := after(t, k, State{}, 240, climate(farm.ColdStore, 8, 0.95))
	dry := after(t, k, State{}, 240, climate(farm.ColdStore, 1, 0.85))
	assert.Greater(t, warm.Age, cool.Age)
	assert.Greater(t, warm.WaterLost, cool.WaterLost, "the same humidity, warmer: a greater deficit")
	assert.Equal(t, cool.Age, dry.Age)
	assert.Greater(t, dry.WaterLost, cool.WaterLost)
}

func TestSavedAndResumedEqualsStraightThrough(t *testing.T) {
	b := book(t)
	rapid.Check(t, func(t *rapid.T) {
		k, err := b.Keeper(rapid.SampledFrom([]string{"carrot", "onion", "tomato", "kale-curly"}).Draw(t, "crop"), "", "crate")
		require.NoError(t, err)
		hours := rapid.IntRange(1, 200).Draw(t, "hours")
		stop := rapid.IntRange(0, hours).Draw(t, "stop")
		kind := rapid.SampledFrom([]string{farm.ColdStore, farm.Airy, farm.Freezer, farm.Ripening}).Draw(t, "kind")
		c := climate(kind, rapid.Float64Range(-20, 25).Draw(t, "°C"), 0.8)

		straight, err := k.After(State{}, float64(hours), c)
		require.NoError(t, err)
		half, err := k.After(State{}, float64(stop), c)
		require.NoError(t, err)
		text, err := json.Marshal(half)
		require.NoError(t, err)
		var kept State
		require.NoError(t, json.Unmarshal(text, &kept))
		resumed, err := k.After(kept, float64(hours-stop), c)
		require.NoError(t, err)
		assert.Equal(t, straight, resumed)
	})
}

// The look ahead and the clocks that run must tell the same day.
func TestUseByStandsWhileTheRoomStays(t *testing.T) {
	for _, key := range []string{"carrot", "leek-summer", "kale-curly", "onion"} {
		k := keeper(t, key, "crate")
		c := climate(farm.ColdStore, 3, 0.9)
		first, err := k.UseBy(k.Cured(), harvest, c)
		require.NoError(t, err)
		s := after(t, k, k.Cured(), 72, c)
		later, err := k.UseBy(s, harvest.Add(72*time.Hour), c)
		require.NoError(t, err)
		assert.WithinDuration(t, first.P10, later.P10, time.Minute, key)
		assert.WithinDuration(t, first.P50, later.P50, time.Minute, key)
		assert.WithinDuration(t, first.P90, later.P90, time.Minute, key)
	}
}

func TestGoodFallsFromOneAndMeetsTheQuantiles(t *testing.T) {
	u := useBy(t, "carrot", "tote", climate(farm.ColdStore, 3.9, 0.95))
	assert.Equal(t, 1.0, u.Good(harvest))
	assert.Equal(t, 1.0, u.Good(harvest.Add(-time.Hour)))
	assert.InDelta(t, 0.9, u.Good(u.P10), 0.001)
	assert.InDelta(t, 0.5, u.Good(u.P50), 0.001)
	assert.InDelta(t, 0.1, u.Good(u.P90), 0.001)
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.IntRange(0, 500*24).Draw(t, "hour")
		b := rapid.IntRange(a, 500*24).Draw(t, "later hour")
		if u.Good(harvest.Add(time.Duration(b)*time.Hour)) > u.Good(harvest.Add(time.Duration(a)*time.Hour)) {
			t.Fatal("a lot got better")
		}
	})
}

// Onions and shallots cure about two weeks in moving air before storage
// (common practice, no source).
func TestCuring(t *testing.T) {
	airy, store := climate(farm.Airy, 18, 0.6), climate(farm.ColdStore, 3.9, 0.65)
	for _, key := range []string{"onion", "shallot"} {
		k := keeper(t, key, "crate")
		assert.False(t, k.IsCured(after(t, k, State{}, 13*24, airy)))
		s := after(t, k, State{}, 14*24, airy)
		assert.True(t, k.IsCured(s))
		assert.Zero(t, s.Age, "the storage life begins after curing")

		raw, err := k.UseBy(State{}, harvest, store)
		require.NoError(t, err)
		cured, err := k.UseBy(s, harvest, store)
		require.NoError(t, err)
		assert.True(t, raw.P50.Before(cured.P10), "stored uncured it does not last")
		assert.Contains(t, codes(raw.Notes), NotCured)
		assert.Empty(t, codes(cured.Notes))

		curing, err := k.UseBy(State{}, harvest, airy)
		require.NoError(t, err)
		assert.Contains(t, codes(curing.Notes), StillCuring)
		assert.Equal(t, 1.0, curing.Good(harvest.Add(14*24*time.Hour)))
	}
	assert.Equal(t, []string{farm.Airy}, keeper(t, "onion", "crate").RoomsAtHarvest())
	assert.Equal(t, farm.ColdStore, keeper(t, "carrot", "tote").RoomsAtHarvest()[0])
	shut := keeper(t, "onion", "tote")
	assert.False(t, shut.IsCured(after(t, shut, State{}, 20*24, airy)), "a closed tote cures nothing")
	assert.True(t, keeper(t, "carrot", "tote").IsCured(State{}), "nothing to cure")
}

// A lot that is still curing lives for the rest of its curing and then for its
// whole life: by hand, onions in moving air at 3.9 °C, cured in fourteen days,
// with the median of 6 to 12 months, √(182.6·365.25) = 258.3 days.
func TestLifeOfALotThatIsStillCuring(t *testing.T) {
	k := keeper(t, "onion", "crate")
	airy := climate(farm.Airy, 3.9, 0.65)
	for _, had := range []int{0, 9} {
		s := after(t, k, State{}, float64(had)*24, airy)
		u, err := k.UseBy(s, harvest, airy)
		require.NoError(t, err)
		p10, p50, p90 := days(u)
		assert.InDelta(t, float64(14-had)+258.3, p50, 0.5, "after %d days", had)
		assert.InDelta(t, 258.3*258.3, (p10-float64(14-had))*(p90-float64(14-had)), 258.3, "a lognormal life around its median")
		assert.Equal(t, 1.0, u.Good(harvest.AddDate(0, 0, 14-had)))
		assert.InDelta(t, 0.5, u.Good(u.P50), 1e-3)
		assert.NotContains(t, codes(u.Notes), NotCured)
		later, err := k.UseBy(after(t, k, s, 20*24, airy), harvest.AddDate(0, 0, 20), airy)
		require.NoError(t, err)
		assert.WithinDuration(t, u.P50, later.P50, time.Minute, "the date stands while the room does")
	}
}

func TestFreezingInStore(t *testing.T) {
	k := keeper(t, "carrot", "tote")
	dip := after(t, k, State{}, 3, climate(farm.ColdStore, -2, 0.9))
	assert.False(t, dip.FrozeThawed)
	assert.Zero(t, after(t, k, dip, 1, climate(farm.ColdStore, 1, 0.9)).BelowHours, "a dip that ended")
	hard := after(t, k, dip, 1, climate(farm.ColdStore, -2, 0.9))
	assert.True(t, hard.FrozeThawed)

	u, err := k.UseBy(hard, harvest, climate(farm.ColdStore, 2, 0.9))
	require.NoError(t, err)
	_, p50, _ := days(u)
	assert.InDelta(t, 3, p50, 0.1)
	assert.Contains(t, codes(u.Notes), UsePromptly)

	above, err := k.UseBy(State{}, harvest, climate(farm.ColdStore, -1.3, 0.95))
	require.NoError(t, err)
	assert.NotContains(t, codes(above.Notes), BelowFreezing, "carrots freeze at -1.4 °C")
}

func TestFreezerInAndOut(t *testing.T) {
	k := keeper(t, "tomato", "bag")
	frozen := after(t, k, State{}, 24*365, climate(farm.Freezer, -18, 0.9))
	assert.Zero(t, frozen.Age)
	assert.InDelta(t, 365/895.0, frozen.FrozenAge, 0.01)
	failed := after(t, k, frozen, 1, climate(farm.Freezer, 2, 0.9))
	assert.True(t, failed.FrozeThawed)
	again := after(t, k, failed, 24, climate(farm.Freezer, -18, 0.9))
	assert.True(t, again.FrozeThawed, "freezing again does not undo it")

	warmer := after(t, k, State{}, 24, climate(farm.Freezer, -12, 0.9))
	colder := after(t, k, State{}, 24, climate(farm.Freezer, -25, 0.9))
	assert.Greater(t, warmer.FrozenAge, 2*colder.FrozenAge)
}

func TestFollowThroughRooms(t *testing.T) {
	k := keeper(t, "onion", "crate")
	day := func(n int) time.Time { return harvest.AddDate(0, 0, n) }
	spells := []Spell{
		{From: day(0), Climate: climate(farm.Airy, 18, 0.6)},
		{From: day(14), Climate: climate(farm.ColdStore, 3.9, 0.65)},
	}
	s, err := k.Follow(harvest, unit.None[time.Time](), spells, day(114))
	require.NoError(t, err)
	assert.True(t, k.IsCured(s))
	assert.InDelta(t, 100/258.4, s.Age, 0.002, "a hundred days of the median 6 to 12 months")

	_, err = k.Follow(harvest, unit.None[time.Time](), nil, day(1))
	assert.ErrorContains(t, err, "nothing is known")
}

func TestFollowTakesTheGrowersWordForCuring(t *testing.T) {
	k := keeper(t, "onion", "crate")
	store := []Spell{{From: harvest, Climate: climate(farm.ColdStore, 3.9, 0.65)}}
	cured := unit.Some(harvest.AddDate(0, 0, 10))
	before, err := k.Follow(harvest, cured, store, harvest.AddDate(0, 0, 9))
	require.NoError(t, err)
	assert.False(t, k.IsCured(before))
	on, err := k.Follow(harvest, cured, store, harvest.AddDate(0, 0, 10))
	require.NoError(t, err)
	assert.True(t, k.IsCured(on))
	later, err := k.Follow(harvest, cured, store, harvest.AddDate(0, 0, 20))
	require.NoError(t, err)
	want := after(t, k, on, 240, store[0].Climate)
	assert.InDelta(t, want.Age, later.Age, 1e-12)
}
