package commands

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func TestARoomKeepsTheAirItHad(t *testing.T) {
	b := newBench(t)
	room, err := b.AddRoom(t.Context(), b.farm, RoomInput{Name: Set("Cellar"), Kind: Set(farm.Cellar), Temperature: Set(2.0)})
	require.NoError(t, err)
	past := func() []farm.RoomAir {
		t.Helper()
		now, err := b.store.Room(t.Context(), b.farm, room.ID)
		require.NoError(t, err)
		past, err := store.RoomPast(t.Context(), b.store, now)
		require.NoError(t, err)
		return past
	}
	set := func(in RoomInput) {
		t.Helper()
		_, err := b.ChangeRoom(t.Context(), b.farm, room.ID, Seen{}, in)
		require.NoError(t, err)
	}
	assert.Equal(t, []farm.RoomAir{{From: noon, Kind: farm.Cellar, Temperature: 2}}, past(), "nothing has changed yet")
	set(RoomInput{Name: Set("Root cellar"), CapacityKg: Set(300.0)})
	assert.Len(t, past(), 1, "a name is no air")

	b.clock = noon.Add(24 * time.Hour)
	set(RoomInput{Temperature: Set(5.0)})
	b.clock = b.clock.Add(30 * time.Minute)
	set(RoomInput{Temperature: Set(6.0), Humidity: Set(0.9)})
	b.clock = b.clock.Add(2 * time.Hour)
	set(RoomInput{Temperature: Set(4.0)})
	day := noon.Add(24 * time.Hour)
	assert.Equal(t, []farm.RoomAir{
		{From: noon, Kind: farm.Cellar, Temperature: 2},
		{From: day, Kind: farm.Cellar, Temperature: 6, Humidity: unit.Some(0.9)},
		{From: day.Add(150 * time.Minute), Kind: farm.Cellar, Temperature: 4, Humidity: unit.Some(0.9)},
	}, past(), "within an hour the later reading stands")
}

func TestALotKeepsWhereItWas(t *testing.T) {
	b := newBench(t)
	var rooms []farm.Room
	for _, name := range []string{"Loft", "Cellar"} {
		r, err := b.AddRoom(t.Context(), b.farm, RoomInput{Name: Set(name), Kind: Set(farm.Cellar), Temperature: Set(2.0)})
		require.NoError(t, err)
		rooms = append(rooms, r)
	}
	lot, err := b.AddLot(t.Context(), b.farm, LotInput{RoomID: Set(rooms[0].ID), Crop: Set("onion"), Kg: Set(50.0), HarvestedAt: Set(noon.Add(-48 * time.Hour))})
	require.NoError(t, err)
	for range 2 {
		b.clock = b.clock.Add(24 * time.Hour)
		lot, err = b.ChangeLot(t.Context(), b.farm, lot.ID, Seen{}, LotInput{RoomID: Set(rooms[1].ID), Kg: Set(40.0)})
		require.NoError(t, err)
	}
	past, err := store.LotPast(t.Context(), b.store, lot)
	require.NoError(t, err)
	assert.Equal(t, []farm.Stay{{From: noon.Add(-48 * time.Hour), RoomID: rooms[0].ID}, {From: noon.Add(24 * time.Hour), RoomID: rooms[1].ID}}, past)
}

// However often a thermometer sends, the book stays bounded, in order, and holds
// the first entry and the newest ones.
func TestARoomsPastIsThinned(t *testing.T) {
	var past []farm.RoomAir
	for i := range 5 * mostAir {
		past = thinned(append(past, farm.RoomAir{From: noon.Add(time.Duration(i) * time.Hour)}))
		require.LessOrEqual(t, len(past), mostAir)
	}
	assert.Equal(t, noon, past[0].From)
	last := len(past) - 1
	for i := 1; i <= last; i++ {
		assert.True(t, past[i].From.After(past[i-1].From))
	}
	assert.Equal(t, time.Hour, past[last].From.Sub(past[last-1].From))
}
