package storetest

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func cellsByKey(t *testing.T, b *book) {
	ctx := t.Context()
	want := filled(1, store.Cell{Key: "nws:XXX/1,2", Sources: map[string]json.RawMessage{"nws": json.RawMessage(`{"office":"XXX","x":1}`)}})
	want.ID = added(t, b, store.Writer.SaveCell, want)
	require.Equal(t, want, got(b.Cell(ctx, want.ID))(t))

	other := store.Cell{Key: "nws:XXX/3,4"}
	other.ID = added(t, b, store.Writer.SaveCell, other)
	bare := store.Cell{ID: want.ID, Key: want.Key, TimeZone: "UTC"}
	require.Equal(t, want.ID, added(t, b, store.Writer.SaveCell, bare), "the same key is the same cell")
	require.Equal(t, bare, got(b.CellByKey(ctx, want.Key))(t))
	require.Equal(t, other, got(b.CellByKey(ctx, other.Key))(t))
	require.Equal(t, other, got(b.Cell(ctx, other.ID))(t))
	_, err := b.Cell(ctx, missing)
	require.ErrorIs(t, err, store.ErrNotFound)
	_, err = b.CellByKey(ctx, "nws:none")
	require.ErrorIs(t, err, store.ErrNotFound)
}

func cellsInUse(t *testing.T, b *book) {
	ctx := t.Context()
	used, cleared, removed, late := settle(t, b, "used"), settle(t, b, "cleared"), settle(t, b, "removed"), settle(t, b, "late")
	added(t, b, store.Writer.SaveCell, store.Cell{Key: "test:empty"})
	shared := added(t, b, store.Writer.AddField, farm.Field{FarmID: cleared.farm, Name: "shares the cell", CreatedAt: at(1, 0)})
	guest := added(t, b, store.Writer.AddBed, farm.Bed{FarmID: cleared.farm, FieldID: shared, Name: "guest", CreatedAt: at(1, 0)})
	b.write(t, func(ctx context.Context, w store.Writer) { require.NoError(t, w.PlaceField(ctx, shared, used.cell)) })
	clearBed(t, b, cleared)
	removeField(t, b, removed)
	moveBed(t, b, settle(t, b, "idle"))
	cells := got(b.CellsInUse(ctx))(t)
	require.Len(t, cells, 2)
	require.Equal(t, []int64{used.cell, late.cell}, []int64{cells[0].ID, cells[1].ID})
	require.Equal(t, []int64{used.bed, guest}, bedIDs(got(b.BedsOfCell(ctx, used.cell))(t)), "whatever the farm")
	require.Empty(t, got(b.BedsOfCell(ctx, cleared.cell))(t))
	require.Empty(t, got(b.BedsOfCell(ctx, removed.cell))(t))
}

func fullForecast(cell int64) store.Forecast {
	return store.Forecast{CellID: cell, Source: "nws", Issued: at(10, 6), Fetched: at(10, 7), Checked: at(10, 7),
		Expires: at(10, 8), LastModified: "Tue, 10 Nov 2026 06:00:00 GMT", ETag: `W/"abc"`,
		Body: weather.Forecast{Source: "nws", Place: "XXX/1,2", Latitude: 46.5, Longitude: -92.25, Elevation: unit.Some(301.0), Issued: at(10, 6),
			Layers: map[weather.Quantity][]weather.Interval{weather.Air: {
				{Start: at(10, 6), End: at(10, 7), Value: unit.Some(-7.7999999999999998)},
				{Start: at(10, 7), End: at(10, 8)},
			}},
			Members:  []weather.Member{{Name: "m1", Air: []weather.Interval{{Start: at(10, 6), End: at(10, 7), Value: unit.Some(0.0)}}}},
			Refused:  []weather.Refusal{{Layer: "snow", Reason: "unknown unit"}},
			Warnings: []string{"old"}, Credit: "public domain"}}
}

func forecastOnce(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	want := fullForecast(w.cell)
	want.ID = added(t, b, store.Writer.AddForecast, want)
	require.Equal(t, want, got(b.Forecast(ctx, want.ID))(t))

	var others []store.Forecast // the same but for one part of what makes an issue
	for _, change := range []func(f *store.Forecast){
		func(f *store.Forecast) { f.CellID = other.cell },
		func(f *store.Forecast) { f.Source = "metno" },
		func(f *store.Forecast) { f.Issued = at(10, 5) },
	} {
		f := want
		change(&f)
		f.ID = added(t, b, store.Writer.AddForecast, f)
		require.NotEqual(t, want.ID, f.ID)
		others = append(others, f)
	}
	again := want
	again.Fetched, again.Checked, again.Expires = at(10, 9), at(10, 9), time.Time{}
	again.LastModified, again.ETag, again.Body.Credit = "later", "", "changed"
	require.Equal(t, want.ID, added(t, b, store.Writer.AddForecast, again))
	want.Checked, want.Expires, want.LastModified, want.ETag = at(10, 9), time.Time{}, "later", ""
	require.Equal(t, want, got(b.Forecast(ctx, want.ID))(t), "the document and when its bytes came stay")
	for _, f := range others {
		require.Equal(t, f, got(b.Forecast(ctx, f.ID))(t), "and so do other issues")
	}
	_, err := b.Forecast(ctx, missing)
	require.ErrorIs(t, err, store.ErrNotFound)
}

func lastForecast(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	foreign := fullForecast(other.cell)
	foreign.Issued = at(11, 0)
	added(t, b, store.Writer.AddForecast, foreign)
	add := func(source string, hour int) int64 {
		f := fullForecast(w.cell)
		f.Source, f.Issued = source, at(10, hour)
		return added(t, b, store.Writer.AddForecast, f)
	}
	newest, metno := add("nws", 12), add("metno", 18)
	add("nws", 6)
	require.Equal(t, newest, got(b.LastForecast(ctx, w.cell, "nws"))(t).ID)
	require.Equal(t, metno, got(b.LastForecast(ctx, w.cell, "metno"))(t).ID)
	_, err := b.LastForecast(ctx, w.cell, "openmeteo")
	require.ErrorIs(t, err, store.ErrNotFound)
}

func checkpoints(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	want := map[string]store.Checkpoint{
		"loam/0":  {AsOf: at(5, 0), Body: []byte{0, 1, 255}},
		"loam/10": {AsOf: at(6, 0), Body: []byte{}},
	}
	save := func(cell int64, m map[string]store.Checkpoint) {
		b.write(t, func(ctx context.Context, wr store.Writer) { require.NoError(t, wr.SaveCheckpoints(ctx, cell, m)) })
	}
	save(w.cell, want)
	save(w.cell, nil)
	save(other.cell, map[string]store.Checkpoint{"loam/0": {AsOf: at(8, 0), Body: []byte{}}, "loam/10": want["loam/10"]})
	require.Equal(t, want, got(b.Checkpoints(ctx, w.cell))(t))

	want["loam/0"] = store.Checkpoint{AsOf: at(7, 0), Body: []byte("later")}
	save(w.cell, map[string]store.Checkpoint{"loam/0": want["loam/0"]})
	require.Equal(t, want, got(b.Checkpoints(ctx, w.cell))(t))

	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.DropCheckpoints(ctx, w.cell, at(6, 0)))
	})
	delete(want, "loam/0")
	require.Equal(t, want, got(b.Checkpoints(ctx, w.cell))(t), "one that holds up to just then stays")
	require.Len(t, got(b.Checkpoints(ctx, other.cell))(t), 2, "another cell's stay, too")
	require.Empty(t, got(b.Checkpoints(ctx, missing))(t))
}
