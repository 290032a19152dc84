package commands

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func TestEveryFarmHasACalendarThatNobodyGuesses(t *testing.T) {
	b := newBench(t)
	first, err := b.CalendarSecret(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Len(t, first, 32, "160 bits, five to a character")
	other, err := b.MakeToken(t.Context(), "Valley Farm", farm.ScopeRead)
	require.NoError(t, err)
	second, err := b.CalendarSecret(t.Context(), other.Farm.ID)
	require.NoError(t, err)
	assert.NotEqual(t, first, second)
	again, err := b.CalendarSecret(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Equal(t, first, again)
	_, err = b.CalendarSecret(t.Context(), 999)
	assert.ErrorIs(t, err, store.ErrNotFound)
}

func TestAFarmWithoutACalendarGetsOneAtFirstUse(t *testing.T) {
	b := newBench(t)
	var id int64
	require.NoError(t, b.store.Write(t.Context(), func(w store.Writer) (err error) {
		id, err = w.AddFarm(t.Context(), farm.New("Old Farm", noon))
		return err
	}))
	made, err := b.CalendarSecret(t.Context(), id)
	require.NoError(t, err)
	found, err := b.store.FarmByCalendar(t.Context(), made)
	require.NoError(t, err)
	assert.Equal(t, id, found.ID)
}

func TestARenewedCalendarEndsTheOldAddress(t *testing.T) {
	b := newBench(t)
	old, err := b.CalendarSecret(t.Context(), b.farm)
	require.NoError(t, err)
	f, err := b.store.Farm(t.Context(), b.farm)
	require.NoError(t, err)
	_, err = b.RenewCalendar(t.Context(), b.farm, unit.Some(f.Version+1))
	assert.ErrorIs(t, err, store.ErrChanged)
	renewed, err := b.RenewCalendar(t.Context(), b.farm, unit.Some(f.Version))
	require.NoError(t, err)
	assert.NotEqual(t, old, renewed.CalendarSecret)
	assert.Equal(t, f.Version+1, renewed.Version)
	_, err = b.store.FarmByCalendar(t.Context(), old)
	assert.ErrorIs(t, err, store.ErrNotFound)
}
