package scene

import (
	"context"
	"database/sql"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// bench is a farm with a bed of chard in a placed field and one in a field that has
// no cell yet, over a book without any forecast.
type bench struct {
	*testing.T
	Reader
	clock                 time.Time
	farm, placed, nowhere int64
	cell                  int64
}

func newBench(t *testing.T) *bench {
	t.Helper()
	opened, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	opened.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	d := &bench{T: t, clock: hourNow.Add(25 * time.Minute)}
	d.Reader = Reader{Store: opened.Store, SourceNames: []string{"nws", "metno"}, Catalogue: catalogue, Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return d.clock }, Members: 3}
	d.write(func(tx store.Writer) {
		d.farm, err = tx.AddFarm(t.Context(), farm.New("Hill Farm", hourNow))
		require.NoError(t, err)
		d.cell, err = tx.SaveCell(t.Context(), store.Cell{Key: "nws:TST/1,1", Latitude: 46, Longitude: -92, Elevation: unit.Some(300.0), TimeZone: "America/Chicago", ResolvedAt: hourNow})
		require.NoError(t, err)
		bed := func(field string, cell int64) int64 {
			f, err := tx.AddField(t.Context(), farm.Field{FarmID: d.farm, Name: field, Latitude: 46.1, Longitude: -92.1, Soil: "loam", CreatedAt: hourNow})
			require.NoError(t, err)
			if cell != 0 {
				require.NoError(t, tx.PlaceField(t.Context(), f, cell))
			}
			b, err := tx.AddBed(t.Context(), farm.Bed{FarmID: d.farm, FieldID: f, Name: "A1", Crop: "chard", Purpose: farm.Fresh, CreatedAt: hourNow})
			require.NoError(t, err)
			return b
		}
		d.placed, d.nowhere = bed("Upper", d.cell), bed("Lower", 0)
	})
	return d
}

func (d *bench) write(do func(store.Writer)) {
	d.Helper()
	require.NoError(d, d.Store.Write(d.Context(), func(tx store.Writer) error { do(tx); return nil }))
}

// forecast keeps one of a source, with a night of -14 °C in it or not.
func (d *bench) forecast(source string, issued time.Time, hard bool) (id int64) {
	f := complete(issued)
	f.Source = source
	if hard {
		f.Layers[weather.Air] = layer(issued, 240, func(i int) float64 {
			if i > 60 && i < 72 {
				return -14
			}
			return 4
		})
	} else {
		f.Layers[weather.Air] = layer(issued, 240, always(4))
	}
	d.write(func(tx store.Writer) {
		var err error
		id, err = tx.AddForecast(d.Context(), store.Forecast{CellID: d.cell, Source: source, Issued: issued, Fetched: issued, Checked: issued, Body: f})
		require.NoError(d, err)
	})
	return id
}

// blind is why a question could not be answered.
func blind(t *testing.T, err error) farm.Blindness {
	t.Helper()
	var b *Blind
	require.ErrorAs(t, err, &b)
	assert.Equal(t, farm.Unknown, b.State)
	assert.NotEmpty(t, b.Error())
	return b.Verdict.Blind
}

// The course of a bed is that of the forecast in use, or of one that is named: for
// the picture of a notice an old one will do.
func TestTheOutlookOfABed(t *testing.T) {
	d := newBench(t)
	ctx := t.Context()
	_, err := d.Outlook(ctx, d.farm, d.placed)
	assert.Equal(t, farm.NoForecast, blind(t, err))
	_, err = d.Outlook(ctx, d.farm, d.nowhere)
	assert.Equal(t, farm.NoForecast, blind(t, err))
	_, err = d.Outlook(ctx, d.farm, 99)
	require.ErrorIs(t, err, store.ErrNotFound)

	old := d.forecast("nws", hourNow.Add(-30*time.Hour), true)
	_, err = d.Outlook(ctx, d.farm, d.placed)
	assert.Equal(t, farm.TooOld, blind(t, err))
	then, err := d.OutlookOn(ctx, d.farm, d.placed, old)
	require.NoError(t, err)
	assert.NotEqual(t, farm.Holds, then.Verdict.State)

	d.forecast("metno", hourNow, false)
	now, err := d.Outlook(ctx, d.farm, d.placed)
	require.NoError(t, err)
	assert.Equal(t, farm.Holds, now.Verdict.State, "the source that is fresh is the one in use")
	assert.Equal(t, "America/Chicago", now.Zone.String())
	assert.Equal(t, 46.0, now.Latitude, "of the forecast point, as the sun is reckoned with")
	assert.Equal(t, -92.0, now.Longitude)
	require.NotEmpty(t, now.Hours)
	assert.True(t, now.Hours[0].At.Equal(hourNow), now.Hours[0].At)
	_, err = d.OutlookOn(ctx, d.farm, d.placed, 99)
	require.ErrorIs(t, err, store.ErrNotFound)
}

// What if it were covered: the same night costs less.
func TestWhatIfABedWereCovered(t *testing.T) {
	d := newBench(t)
	d.forecast("nws", hourNow, true)
	asIs, err := d.WhatIf(t.Context(), d.farm, d.placed, "", unit.None[float64]())
	require.NoError(t, err)
	under, err := d.WhatIf(t.Context(), d.farm, d.placed, "high_tunnel", unit.Some(10.0))
	require.NoError(t, err)
	assert.Equal(t, "high_tunnel", under.Cover)
	assert.Equal(t, 10.0, under.MulchCm)
	assert.LessOrEqual(t, under.Likelihood.Else(1), asIs.Likelihood.Else(0))
	_, err = d.WhatIf(t.Context(), d.farm, d.nowhere, "", unit.None[float64]())
	assert.Equal(t, farm.NoForecast, blind(t, err))
}
