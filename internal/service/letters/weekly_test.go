package letters_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// judgedBed is a bed with a verdict on a forecast of an age; by: hours to its
// deadline, 0: none.
func (b *storeBench) judgedBed(field int64, name string, age time.Duration, by float64) {
	b.Helper()
	bed, err := b.AddBed(b.Context(), b.farm, commands.BedInput{FieldID: commands.Set(field), Name: commands.Set(name), Crop: commands.Set("chard")})
	require.NoError(b, err)
	v := farm.Verdict{State: farm.Holds, AsOf: b.clock.Add(-age), Forecast: farm.Basis{ID: 1, Source: "nws", Issued: b.clock.Add(-age)}}
	if by > 0 {
		v.State, v.HarvestBefore = farm.HarvestBefore, unit.Some(b.clock.Add(time.Duration(by*float64(time.Hour))))
	}
	require.NoError(b, b.store.Write(b.Context(), func(tx store.Writer) error {
		return tx.SaveVerdicts(b.Context(), []store.Verdict{{BedID: bed.ID, Kept: farm.Keep(v)}})
	}))
}

// The sign of life tells the beds there are, those with a deadline, the nearest of
// them, the oldest forecast anything rests on, and what cannot be seen.
func TestASignOfLifeSaysWhereThingsStand(t *testing.T) {
	b := newStoreBench(t)
	field, err := b.AddField(t.Context(), b.farm, commands.FieldInput{Name: commands.Set("Upper"), Latitude: commands.Set(45.0), Longitude: commands.Set(-93.0)})
	require.NoError(t, err)
	require.NoError(t, b.StillWatching(t.Context()))
	assert.Empty(t, b.told(), "a farm without beds is not written to")
	b.judgedBed(field.ID, "A1", time.Hour, 0)
	b.judgedBed(field.ID, "A2", 3*time.Hour, 60)
	b.judgedBed(field.ID, "A3", 2*time.Hour, 40)
	b.judgedBed(field.ID, "A4", 48*time.Hour, 50) // too old to rely on
	require.NoError(t, b.StillWatching(t.Context()))
	require.Len(t, b.told(), 1)
	n := b.told()[0]
	assert.Equal(t, notice.StillWatching, n.Kind)
	got := b.facts(n).Watching
	assert.Equal(t, &notice.Watching{Beds: 4, Open: 2, Unseen: 1, Next: "A3", NextAt: unit.Some(b.clock.Add(40 * time.Hour)), Issued: unit.Some(b.clock.Add(-48 * time.Hour))}, got)
	require.NoError(t, b.StillWatching(t.Context()))
	assert.Len(t, b.told(), 1, "once a day")
	messages, err := b.store.Messages(t.Context(), b.farm, store.Page{})
	require.NoError(t, err)
	assert.Len(t, messages, 1)
}

func TestAFarmMayDoWithoutASignOfLife(t *testing.T) {
	b := newStoreBench(t)
	field, err := b.AddField(t.Context(), b.farm, commands.FieldInput{Name: commands.Set("Upper"), Latitude: commands.Set(45.0), Longitude: commands.Set(-93.0)})
	require.NoError(t, err)
	b.judgedBed(field.ID, "A1", time.Hour, 0)
	_, err = b.ChangeFarm(t.Context(), b.farm, commands.Seen{}, commands.FarmInput{StillWatching: commands.Set(false)})
	require.NoError(t, err)
	require.NoError(t, b.StillWatching(t.Context()))
	assert.Empty(t, b.told())
}
