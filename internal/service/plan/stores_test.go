package plan_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

const day = 24 * time.Hour

// Facts of the trade at 39 °F (common practice, no source), through the book:
// months of life of a fresh lot, in the container it belongs into.
func TestStoresGiveTheTradesLives(t *testing.T) {
	b := newBench(t)
	cold, loft, freezer := b.room(farm.ColdStore, 3.9, 0), b.room(farm.Airy, 3.9, 0), b.room(farm.Freezer, -18, 0)
	for _, c := range []struct {
		crop, container string
		room            farm.Room
		least, most     float64
	}{
		{"carrot", "tote", cold, 3, 6}, {"beet", "tote", cold, 3, 5}, {"radish", "tote", cold, 1, 3},
		{"onion", "crate", loft, 6, 12.5}, {"shallot", "crate", loft, 10, 13}, {"tomato", "bag", freezer, 24, 60},
	} {
		lot := b.kept(b.lot(c.room, c.crop, c.container, 10, 0).ID)
		months := lot.Life().Hours() / 24 / 30.44
		assert.True(t, months >= c.least && months <= c.most, "%s: %.1f months", c.crop, months)
	}
}

// Curing goes on in the loft and is over when the onions are moved: both rooms
// count as they were, the present one does not stand for the past.
func TestALotRemembersTheRoomsItWasIn(t *testing.T) {
	b := newBench(t)
	loft, cold := b.room(farm.Airy, 20, 0), b.room(farm.ColdStore, 1, 0)
	moved, left := b.lot(loft, "onion", "crate", 50, 0), b.lot(loft, "onion", "crate", 50, 0)
	b.clock = b.clock.Add(16 * day)
	_, err := b.ChangeLot(t.Context(), b.farm, moved.ID, commands.Seen{}, commands.LotInput{RoomID: commands.Set(cold.ID)})
	require.NoError(t, err)
	b.clock = b.clock.Add(60 * day)
	inCold, inLoft := b.kept(moved.ID), b.kept(left.ID)
	assert.True(t, inCold.Cured, "it had its two weeks before it was moved")
	assert.Less(t, inCold.State.Age, inLoft.State.Age, "and ages slower since")
	assert.InDelta(t, 14*24, inCold.State.CuredHours, 1.01)

	// A lot that went straight into the cold was never cured.
	straight := b.lot(cold, "onion", "crate", 50, 30*day)
	assert.False(t, b.kept(straight.ID).Cured)
}

func TestClocksFollowTheRoomAsItWas(t *testing.T) {
	b := newBench(t)
	steady, warmed := b.room(farm.ColdStore, 1, 0), b.room(farm.Cellar, 1, 0)
	calm, hurried := b.lot(steady, "beet", "tote", 10, 0), b.lot(warmed, "beet", "tote", 10, 0)
	set := func(celsius float64) {
		_, err := b.ChangeRoom(t.Context(), b.farm, warmed.ID, commands.Seen{}, commands.RoomInput{Temperature: commands.Set(celsius)})
		require.NoError(t, err)
	}
	b.clock = b.clock.Add(10 * day)
	set(15)
	b.clock = b.clock.Add(10 * day)
	set(1)
	late := b.lot(warmed, "beet", "tote", 10, 0)
	b.clock = b.clock.Add(10 * day)
	slow, fast := b.kept(calm.ID), b.kept(hurried.ID)
	assert.Greater(t, fast.State.Age, 1.5*slow.State.Age, "ten warm days have passed for it")
	assert.True(t, fast.UseBy.P50.Before(slow.UseBy.P50))

	// What came after the warm spell has not had it, and the hours add up exactly.
	table, err := keeping.Default()
	require.NoError(t, err)
	keeper, err := table.Keeper("beet", "", "tote")
	require.NoError(t, err)
	air := func(c unit.Celsius) keeping.Climate {
		return keeping.Climate{Kind: farm.Cellar, Temperature: c, Humidity: unit.Some(0.95)}
	}
	want := keeping.State{}
	for _, c := range []unit.Celsius{1, 15, 1} {
		want, err = keeper.After(want, 240, air(c))
		require.NoError(t, err)
	}
	assert.Equal(t, want, fast.State)
	want, err = keeper.After(keeping.State{}, 240, air(1))
	require.NoError(t, err)
	assert.Equal(t, want, b.kept(late.ID).State)
}

func TestRoomsTellWhatIsFreeAndWhatDoesNotFit(t *testing.T) {
	b := newBench(t)
	cold, open := b.room(farm.ColdStore, 1, 100), b.room(farm.Cellar, 8, 0)
	b.lot(cold, "carrot", "tote", 60, 0)
	b.lot(cold, "onion", "tote", 35, 0)
	rooms, err := b.Stores(t.Context(), b.farm)
	require.NoError(t, err)
	require.Len(t, rooms, 2)
	assert.Equal(t, cold.ID, rooms[0].ID)
	assert.Equal(t, 95.0, rooms[0].Kg)
	assert.Equal(t, unit.Some(5.0), rooms[0].FreeKg)
	var codes []keeping.Code
	for _, n := range rooms[0].Advice {
		codes = append(codes, n.Code)
	}
	assert.Subset(t, codes, []keeping.Code{keeping.RoomFull, keeping.NotCured, keeping.NeedsAir, keeping.HumidityClash})
	assert.Positive(t, rooms[0].HeatW)
	assert.False(t, rooms[1].FreeKg.Known(), "no capacity is known of %s", open.Name)
	assert.Empty(t, rooms[1].Lots)
}

// What nobody knows the life of takes room and is named, never dated.
func TestALotOfUnknownLife(t *testing.T) {
	b := newBench(t)
	cold := b.room(farm.ColdStore, 1, 100)
	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error {
		_, err := tx.AddLot(t.Context(), farm.Lot{FarmID: b.farm, RoomID: cold.ID, Crop: "oca", Kg: 40, HarvestedAt: noon, Container: "open", CreatedAt: noon})
		return err
	}))
	b.lot(cold, "carrot", "tote", 55, 0)
	rooms, err := b.Stores(t.Context(), b.farm)
	require.NoError(t, err)
	lot := rooms[0].Lots[0]
	assert.Equal(t, keeping.NoFigures, lot.Why)
	assert.True(t, lot.UseBy.P50.IsZero())
	assert.Equal(t, unit.Some(5.0), rooms[0].FreeKg)
	assert.Equal(t, keeping.RoomFull, rooms[0].Advice[0].Code, "it takes room like any other")
	assert.Equal(t, []string{"oca"}, rooms[0].HeatLess, "the warmth of the rest is without it")
	s, err := b.Supply(t.Context(), b.farm, false)
	require.NoError(t, err)
	assert.Equal(t, []int64{lot.ID}, s.Unkept)
}

// Frost in the field before the harvest is remembered against the lot.
func TestWhatFrostHadHurtIsToldOfTheLot(t *testing.T) {
	b := newBench(t)
	shelf := b.room(farm.Ripening, 15, 0)
	bed := b.bed("B4", "tomato", 80, commands.BedInput{})
	v := farm.Verdict{State: farm.TooLate, AlreadyLost: true, AirLowAt: unit.Some(noon.Add(-8 * time.Hour)), AirLow: unit.Some(unit.Celsius(-3))}
	b.judge(bed, v)
	_, err := b.AddLot(t.Context(), b.farm, commands.LotInput{RoomID: commands.Set(shelf.ID), Crop: commands.Set("tomato"), Kg: commands.Set(20.0), HarvestedAt: commands.Set(noon), FromBedID: commands.Set(bed.ID)})
	require.NoError(t, err)
	warned := map[keeping.Code]bool{}
	rooms, err := b.Stores(t.Context(), b.farm)
	require.NoError(t, err)
	for _, n := range rooms[0].Advice {
		warned[n.Code] = n.Warning
	}
	assert.True(t, warned[keeping.DoNotCan], "from frost-killed vines it is a warning (USDA, NCHFP)")
	assert.True(t, warned[keeping.Damaged])
}

func TestNotesAreSaidInBothLanguages(t *testing.T) {
	n := keeping.Note{Code: keeping.BelowFreezing, Crop: "carrot", Temp: unit.Some(unit.Celsius(-3)), Limit: unit.Some(unit.Celsius(-1.4))}
	title := func(key string) string { return key }
	assert.Equal(t, "Carrot: at 27 °F it freezes in store (it freezes at 29 °F).", plan.Say(speaker("en", unit.US), n, title))
	assert.Equal(t, "Carrot: a -3.0 °C se hiela en el almacén (se hiela a -1.4 °C).", plan.Say(speaker("es", unit.Metric), n, title))
	assert.Contains(t, plan.Say(speaker("en", unit.US), keeping.Note{Code: keeping.TooWarm, Crop: "onion"}, title), "{temperature}", "a missing number is seen, not made up")
}

// Every note must make a whole sentence, with the unit beside every number.
func TestEveryNoteSpeaks(t *testing.T) {
	for _, language := range phrase.MustLoad().Languages() {
		seen := map[string]keeping.Code{}
		for _, code := range keeping.Codes() {
			n := keeping.Note{Code: code, Crop: "onion", Other: []string{"carrot"}, Share: unit.Some(0.7),
				Temp: unit.Some(unit.Celsius(-10)), Limit: unit.Some(unit.Celsius(-0.8))}
			text := plan.Say(speaker(language, unit.US), n, strings.ToUpper)
			require.NotContains(t, seen, text, "%s and %s say the same", code, seen[text])
			seen[text] = code
			assert.Regexp(t, `^\p{Lu}.*\.$`, text)
			assert.NotContains(t, text, "{")
			assert.NotRegexp(t, `\d (?:[^°%F]|$)`, text, "a number without its unit")
			assert.NotContains(t, text, "onion", "the title is used")
		}
	}
}
