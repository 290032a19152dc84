package letters_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/letters"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
)

// storeBench is commands and letters over a real book, with a clock that can be
// set and one person who is told by mail.
type storeBench struct {
	*testing.T
	commands.Service
	letters.Writer
	store *sqlite.Store
	clock time.Time
	farm  int64
}

func newStoreBench(t *testing.T) *storeBench {
	t.Helper()
	opened, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	opened.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	b := &storeBench{T: t, store: opened, clock: time.Date(2026, 10, 1, 18, 0, 0, 0, time.UTC)}
	now := func() time.Time { return b.clock }
	b.Writer = letters.Writer{Store: opened.Store, Catalogue: catalogue, Now: now}
	b.Service = commands.Service{Store: opened.Store, Catalogue: catalogue, Now: now, Filled: b.RoomFilled}
	made, err := b.MakeToken(t.Context(), "Hill Farm", farm.ScopeWrite)
	require.NoError(t, err)
	b.farm = made.Farm.ID
	_, err = b.AddRecipient(t.Context(), b.farm, commands.RecipientInput{Name: commands.Set("Ada"), Email: commands.Set("ada@hill.example")})
	require.NoError(t, err)
	return b
}

func (b *storeBench) room(kind string, celsius, capacity float64) farm.Room {
	b.Helper()
	in := commands.RoomInput{Name: commands.Set("the " + kind), Kind: commands.Set(kind), Temperature: commands.Set(celsius), Humidity: commands.Set(0.95)}
	if capacity > 0 {
		in.CapacityKg = commands.Set(capacity)
	}
	r, err := b.AddRoom(b.Context(), b.farm, in)
	require.NoError(b, err)
	return r
}

func (b *storeBench) lot(room farm.Room, crop, container string, kg float64) farm.Lot {
	b.Helper()
	l, err := b.AddLot(b.Context(), b.farm, commands.LotInput{RoomID: commands.Set(room.ID), Crop: commands.Set(crop), Kg: commands.Set(kg),
		Container: commands.Set(container), HarvestedAt: commands.Set(b.clock)})
	require.NoError(b, err)
	return l
}

// days does the daily round on each of so many days and gives what was told, by
// the day of the bench on which it was.
func (b *storeBench) days(n int) (told []store.Notice) {
	b.Helper()
	before := len(b.told())
	for range n {
		b.clock = b.clock.Add(24 * time.Hour)
		require.NoError(b, b.Stored(b.Context()))
	}
	return b.told()[before:]
}

// told are all notices, the oldest first.
func (b *storeBench) told() []store.Notice {
	b.Helper()
	all, err := b.store.Notices(b.Context(), b.farm, store.NoticeFilter{})
	require.NoError(b, err)
	for i, j := 0, len(all)-1; i < j; i, j = i+1, j-1 {
		all[i], all[j] = all[j], all[i]
	}
	return all
}

func (b *storeBench) facts(n store.Notice) (f notice.Facts) {
	b.Helper()
	require.NoError(b, json.Unmarshal(n.Facts, &f))
	return f
}

func TestUseByIsToldOnceAndInTime(t *testing.T) {
	b := newStoreBench(t)
	cold := b.room(farm.ColdStore, 1, 0)
	b.lot(cold, "beet", "tote", 40)
	told := b.days(250)
	require.Len(t, told, 1, "once, whatever comes after")
	f := b.facts(told[0])
	assert.Equal(t, notice.UseBy, told[0].Kind)
	assert.Equal(t, "lot:1", told[0].Subject)
	assert.Equal(t, "ageing", f.Lot.Clock)
	assert.Equal(t, "the cold_store", f.Lot.Room)
	ahead := f.Lot.UseBy.Sub(told[0].IssuedAt)
	assert.True(t, ahead > 0 && ahead <= 14*24*time.Hour, "%v ahead: a tenth of its life or two weeks, whichever is later", ahead)
	assert.Greater(t, ahead, 8*24*time.Hour)
}

// What lives for days only is told a day or two before.
func TestShortLivesAreToldShortlyBefore(t *testing.T) {
	b := newStoreBench(t)
	b.lot(b.room(farm.Fridge, 4, 0), "spinach", "bag", 10)
	told := b.days(30)
	require.Len(t, told, 1)
	ahead := b.facts(told[0]).Lot.UseBy.Sub(told[0].IssuedAt)
	assert.True(t, ahead > 0 && ahead <= 36*time.Hour, "%v ahead", ahead)
}

// A date that moves by more than a week is told again, one that hardly moves is not.
func TestAMovedDateIsToldAgain(t *testing.T) {
	b := newStoreBench(t)
	cold := b.room(farm.ColdStore, 1, 0)
	b.lot(cold, "carrot", "tote", 40)
	warm := func(celsius float64) {
		_, err := b.ChangeRoom(t.Context(), b.farm, cold.ID, commands.Seen{}, commands.RoomInput{Temperature: commands.Set(celsius)})
		require.NoError(t, err)
	}
	require.Empty(t, b.days(120))
	var told []store.Notice
	for len(told) == 0 {
		told = append(told, b.days(1)...)
	}
	first := b.facts(told[0]).Lot.UseBy
	warm(1.2)
	require.Empty(t, b.days(1), "hardly moved")
	warm(15)
	told = b.days(1)
	require.Len(t, told, 1)
	assert.True(t, b.facts(told[0]).Lot.UseBy.Before(first.Add(-7*24*time.Hour)))
	assert.Equal(t, 2, told[0].Revision)
}

func TestCuredOnionsAreToldToBeMovedOnce(t *testing.T) {
	b := newStoreBench(t)
	loft, cold := b.room(farm.Airy, 20, 0), b.room(farm.ColdStore, 1, 0)
	lot := b.lot(loft, "onion", "crate", 60)
	assert.Empty(t, b.days(13), "still curing")
	told := b.days(3)
	require.Len(t, told, 1)
	assert.Equal(t, notice.Cured, b.facts(told[0]).Lot.Clock)
	assert.Empty(t, b.days(5))
	_, err := b.ChangeLot(t.Context(), b.farm, lot.ID, commands.Seen{}, commands.LotInput{RoomID: commands.Set(cold.ID)})
	require.NoError(t, err)
	assert.Empty(t, b.days(5))
}

// Full at 95 %, over at 85 %, told in the transaction that fills the room.
func TestRoomFullIsToldOnceUntilThereIsRoomAgain(t *testing.T) {
	b := newStoreBench(t)
	cellar := b.room(farm.Cellar, 2, 100)
	lot := b.lot(cellar, "beet", "tote", 94)
	set := func(kg float64) {
		_, err := b.ChangeLot(t.Context(), b.farm, lot.ID, commands.Seen{}, commands.LotInput{Kg: commands.Set(kg)})
		require.NoError(t, err)
	}
	assert.Empty(t, b.told(), "94 of 100")
	b.lot(cellar, "carrot", "tote", 1)
	require.Len(t, b.told(), 1, "95 of 100, told at once")
	assert.Equal(t, notice.RoomFull, b.told()[0].Kind)
	assert.Equal(t, &notice.RoomFacts{ID: cellar.ID, Name: "the cellar", Kg: 95, CapacityKg: 100}, b.facts(b.told()[0]).Room)
	set(85)
	set(94)
	assert.Len(t, b.told(), 1, "86 of 100 is not room again")
	assert.Empty(t, b.days(2), "and not told daily")
	set(83)
	set(94)
	require.Len(t, b.told(), 2, "84, then 95 again")
	assert.Equal(t, 2, b.told()[1].Revision)
}

func TestAFullerRoomByItsCapacityAndByMovingLots(t *testing.T) {
	b := newStoreBench(t)
	cellar, cold := b.room(farm.Cellar, 2, 1000), b.room(farm.ColdStore, 2, 100)
	lot := b.lot(cellar, "beet", "tote", 96)
	_, err := b.ChangeLot(t.Context(), b.farm, lot.ID, commands.Seen{}, commands.LotInput{RoomID: commands.Set(cold.ID)})
	require.NoError(t, err)
	require.Len(t, b.told(), 1)
	assert.Equal(t, "room:2", b.told()[0].Subject)
	require.NoError(t, b.EndLot(t.Context(), b.farm, lot.ID, commands.Seen{}))
	b.lot(cellar, "carrot", "tote", 50)
	_, err = b.ChangeRoom(t.Context(), b.farm, cellar.ID, commands.Seen{}, commands.RoomInput{CapacityKg: commands.Set(50.0)})
	require.NoError(t, err)
	require.Len(t, b.told(), 2)
	assert.Equal(t, "room:1", b.told()[1].Subject)
}

// Nothing is told of a change that did not come about.
func TestARefusedLotTellsNothing(t *testing.T) {
	b := newStoreBench(t)
	cellar := b.room(farm.Cellar, 2, 100)
	err := b.store.Write(t.Context(), func(tx store.Writer) error {
		_, err := b.Within(tx).AddLot(t.Context(), b.farm, commands.LotInput{RoomID: commands.Set(cellar.ID), Crop: commands.Set("beet"), Kg: commands.Set(99.0), HarvestedAt: commands.Set(b.clock)})
		require.NoError(t, err)
		return assert.AnError
	})
	require.ErrorIs(t, err, assert.AnError)
	assert.Empty(t, b.told())
}

// What falls due on one day goes out in one message, said in words.
func TestLotsOfOneDayShareAMessage(t *testing.T) {
	b := newStoreBench(t)
	fridge := b.room(farm.Fridge, 4, 0)
	b.lot(fridge, "spinach", "bag", 10)
	b.lot(fridge, "spinach", "bag", 20)
	told := b.days(30)
	require.Len(t, told, 2)
	messages, err := b.store.Messages(t.Context(), b.farm, store.Page{})
	require.NoError(t, err)
	require.Len(t, messages, 1)
	assert.Len(t, messages[0].NoticeIDs, 2)
}
