package store

import (
	"context"
	"encoding/json"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// memos is a book that holds nothing else.
type memos struct {
	Writer
	kept map[string]json.RawMessage
	err  error
}

func (m *memos) Memo(_ context.Context, owner, kind string) (json.RawMessage, error) {
	body, ok := m.kept[owner+" "+kind]
	if m.err == nil && !ok {
		return nil, ErrNotFound
	}
	return body, m.err
}

func (m *memos) SetMemo(_ context.Context, owner, kind string, body json.RawMessage, _ time.Time) error {
	m.kept[owner+" "+kind] = body
	return m.err
}

var since = time.Date(2025, 10, 1, 0, 0, 0, 0, time.UTC)

// Without anything kept, a room has had its present air since it was made, and a
// lot has lain where it lies since its harvest.
func TestAPastThatWasNeverKept(t *testing.T) {
	m := &memos{kept: map[string]json.RawMessage{}}
	room := farm.Room{ID: 3, Kind: farm.Cellar, Temperature: 4, Humidity: unit.Some(0.9), CreatedAt: since}
	air, err := RoomPast(t.Context(), m, room)
	require.NoError(t, err)
	assert.Equal(t, []farm.RoomAir{{From: since, Kind: farm.Cellar, Temperature: 4, Humidity: unit.Some(0.9)}}, air)
	stays, err := LotPast(t.Context(), m, farm.Lot{ID: 3, RoomID: 5, HarvestedAt: since})
	require.NoError(t, err)
	assert.Equal(t, []farm.Stay{{From: since, RoomID: 5}}, stays)
}

func TestAPastThatWasKept(t *testing.T) {
	m := &memos{kept: map[string]json.RawMessage{}}
	air := []farm.RoomAir{{From: since, Kind: farm.Airy, Temperature: 18}, {From: since.AddDate(0, 1, 0), Kind: farm.ColdStore, Temperature: 2, Humidity: unit.Some(0.9)}}
	stays := []farm.Stay{{From: since, RoomID: 1}, {From: since.AddDate(0, 0, 9), RoomID: 2}}
	require.NoError(t, KeepRoomPast(t.Context(), m, 3, air, since))
	require.NoError(t, KeepLotPast(t.Context(), m, 3, stays, since)) // of the same number
	gotAir, err := RoomPast(t.Context(), m, farm.Room{ID: 3})
	require.NoError(t, err)
	assert.Equal(t, air, gotAir)
	gotStays, err := LotPast(t.Context(), m, farm.Lot{ID: 3})
	require.NoError(t, err)
	assert.Equal(t, stays, gotStays)
	other, err := LotPast(t.Context(), m, farm.Lot{ID: 4, RoomID: 8, HarvestedAt: since})
	require.NoError(t, err)
	assert.Equal(t, []farm.Stay{{From: since, RoomID: 8}}, other)
}

// What cannot be read is an error, never an empty past.
func TestAPastThatCannotBeRead(t *testing.T) {
	m := &memos{kept: map[string]json.RawMessage{"lot:3 lot-rooms": json.RawMessage(`{`)}}
	_, err := LotPast(t.Context(), m, farm.Lot{ID: 3})
	assert.ErrorContains(t, err, "memo lot-rooms of lot:3")
	m.err = errors.New("disk")
	_, err = RoomPast(t.Context(), m, farm.Room{ID: 3})
	assert.ErrorIs(t, err, m.err)
	assert.ErrorIs(t, KeepRoomPast(t.Context(), m, 3, nil, since), m.err)
}
