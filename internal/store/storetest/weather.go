package storetest

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func cellsByKey(t *testing.T, b *book) {
	ctx := t.Context()
	want := store.Cell{Key: "nws:XXX/1,2", Latitude: 46.5, Longitude: -92.25, Elevation: unit.Some(301.0), TimeZone: "America/Chicago",
		Sources:  map[string]json.RawMessage{"nws": json.RawMessage(`{"office":"XXX","x":1}`)},
		Warnings: []string{"the point lies over water"}, ResolvedAt: at(1, 5)}
	want.ID = added(t, b, store.Writer.SaveCell, want)
	require.Equal(t, want, got(b.Cell(ctx, want.ID))(t))

	bare := store.Cell{ID: want.ID, Key: want.Key, TimeZone: "UTC"}
	require.Equal(t, want.ID, added(t, b, store.Writer.SaveCell, bare), "the same key is the same cell")
	require.Equal(t, bare, got(b.CellByKey(ctx, want.Key))(t))
	_, err := b.Cell(ctx, missing)
	require.ErrorIs(t, err, store.ErrNotFound)
	_, err = b.CellByKey(ctx, "nws:none")
	require.ErrorIs(t, err, store.ErrNotFound)
}

func cellsInUse(t *testing.T, b *book) {
	ctx := t.Context()
	used, cleared, removed := settle(t, b, "used"), settle(t, b, "cleared"), settle(t, b, "removed")
	added(t, b, store.Writer.SaveCell, store.Cell{Key: "test:empty"})
	shared := added(t, b, store.Writer.AddField, farm.Field{FarmID: cleared.farm, Name: "shares the cell", CreatedAt: at(1, 0)})
	guest := added(t, b, store.Writer.AddBed, farm.Bed{FarmID: cleared.farm, FieldID: shared, Name: "guest", CreatedAt: at(1, 0)})
	b.write(t, func(ctx context.Context, w store.Writer) {
		require.NoError(t, w.PlaceField(ctx, shared, used.cell))
		bed := got(w.Bed(ctx, cleared.farm, cleared.bed))(t)
		bed.ClearedAt = unit.Some(at(2, 0))
		require.NoError(t, w.UpdateBed(ctx, bed))
		field := got(w.Field(ctx, removed.farm, removed.field))(t)
		field.RemovedAt = unit.Some(at(2, 0))
		require.NoError(t, w.UpdateField(ctx, field.Field))
	})
	cells := got(b.CellsInUse(ctx))(t)
	require.Len(t, cells, 1)
	require.Equal(t, used.cell, cells[0].ID)
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
	w := settle(t, b, "one")
	want := fullForecast(w.cell)
	want.ID = added(t, b, store.Writer.AddForecast, want)
	require.Equal(t, want, got(b.Forecast(ctx, want.ID))(t))

	again := want
	again.Fetched, again.Checked, again.Expires = at(10, 9), at(10, 9), time.Time{}
	again.LastModified, again.ETag, again.Body.Credit = "later", "", "changed"
	require.Equal(t, want.ID, added(t, b, store.Writer.AddForecast, again))
	want.Checked, want.Expires, want.LastModified, want.ETag = at(10, 9), time.Time{}, "later", ""
	require.Equal(t, want, got(b.Forecast(ctx, want.ID))(t), "the document and when its bytes came stay")
	_, err := b.Forecast(ctx, missing)
	require.ErrorIs(t, err, store.ErrNotFound)
}

func lastForecast(t *testing.T, b *book) {
	ctx := t.Context()
	w := settle(t, b, "one")
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

func hourOf(day, hour int, air unit.Celsius) weather.Hour {
	return weather.Hour{At: at(day, hour), Air: unit.Some(air)}
}

func putHours(t *testing.T, b *book, cell int64, o weather.Origin, hours ...weather.Hour) {
	t.Helper()
	b.write(t, func(ctx context.Context, w store.Writer) { require.NoError(t, w.PutHours(ctx, cell, o, hours)) })
}

func strongestOrigin(t *testing.T, b *book) {
	w, other := settle(t, b, "one"), settle(t, b, "other")
	full := weather.Hour{At: at(5, 3), Air: unit.Some(unit.Celsius(-3.1)), DewPoint: unit.Some(unit.Celsius(-9.6)), Wind: unit.Some(0.0),
		Cloud: unit.Some(1.0), Precip: unit.Some(0.2), SnowDepth: unit.Some(12.0), Shortwave: unit.Some(85.5)}
	putHours(t, b, w.cell, weather.Observation, full, hourOf(5, 1, 1), weather.Hour{At: at(5, 2)})
	putHours(t, b, w.cell, weather.Analysis, hourOf(5, 3, 9), hourOf(5, 4, 4))
	putHours(t, b, w.cell, weather.Observation, hourOf(5, 1, 1.5))
	putHours(t, b, w.cell, weather.Reanalysis, hourOf(5, 4, 4.5), hourOf(5, 2, 9))
	putHours(t, b, other.cell, weather.Import, hourOf(5, 1, 30))
	in := func(from, to int) []weather.Hour { return got(b.Hours(t.Context(), w.cell, at(5, from), at(5, to)))(t) }
	want := []weather.Hour{hourOf(5, 1, 1.5), hourOf(5, 2, 9), full, hourOf(5, 4, 4.5)}
	require.Equal(t, want, in(0, 23), "a stronger origin that does not know a quantity leaves it to the weaker")
	require.Equal(t, want[1:3], in(2, 4), "from is inside, to is not")
	rain := hourOf(5, 6, 3)
	rain.Precip = unit.Some(1.2)
	putHours(t, b, w.cell, weather.Analysis, rain)
	putHours(t, b, w.cell, weather.Observation, hourOf(5, 6, 2.5))
	rain.Air = unit.Some(unit.Celsius(2.5))
	require.Equal(t, []weather.Hour{rain}, in(6, 7), "a station without a rain gauge leaves the analysis of the rain")
}

// hoursModel compares any order of writing with a map that keeps the strongest.
func hoursModel(t *testing.T, b *book) {
	n := 0
	ranks := []weather.Origin{weather.Analysis, weather.Reanalysis, weather.Observation, weather.Import}
	rapid.Check(t, func(r *rapid.T) {
		n++
		cell := added(t, b, store.Writer.SaveCell, store.Cell{Key: at(1, n).String()})
		kept, rank := map[int64]weather.Hour{}, map[int64]int{}
		for range rapid.IntRange(1, 4).Draw(r, "writes") {
			o := rapid.IntRange(0, 3).Draw(r, "origin")
			var hours []weather.Hour
			for _, h := range rapid.SliceOfN(rapid.IntRange(0, 6), 0, 8).Draw(r, "hours") {
				x := hourOf(5, h, unit.Celsius(rapid.IntRange(-400, 300).Draw(r, "tenths"))/10)
				hours = append(hours, x)
				if was, ok := rank[x.At.Unix()]; !ok || o >= was {
					kept[x.At.Unix()], rank[x.At.Unix()] = x, o
				}
			}
			putHours(t, b, cell, ranks[o], hours...)
		}
		var want []weather.Hour
		for _, k := range slices.Sorted(maps.Keys(kept)) {
			want = append(want, kept[k])
		}
		require.Equal(t, want, got(b.Hours(t.Context(), cell, at(1, 0), at(30, 0)))(t))
	})
}

func hoursRefused(t *testing.T, b *book) {
	w := settle(t, b, "one")
	err := b.try(t, func(ctx context.Context, wr store.Writer) error {
		return wr.PutHours(ctx, w.cell, weather.Import, []weather.Hour{hourOf(5, 1, 2), {At: at(5, 2).Add(30 * time.Minute)}})
	})
	require.ErrorContains(t, err, "2026-11-05T02:30:00Z: must begin on a full UTC hour")
	err = b.try(t, func(ctx context.Context, wr store.Writer) error {
		return wr.PutHours(ctx, w.cell, "guess", []weather.Hour{hourOf(5, 1, 2)})
	})
	require.ErrorContains(t, err, `origin "guess": must be one of`)
	require.Empty(t, got(b.Hours(t.Context(), w.cell, at(1, 0), at(30, 0)))(t))
	putHours(t, b, w.cell, weather.Import) // no hours: nothing to do
}

func hoursCopied(t *testing.T, b *book) {
	from, to := settle(t, b, "from"), settle(t, b, "to")
	putHours(t, b, from.cell, weather.Import, hourOf(5, 1, 1), hourOf(5, 2, 2))
	putHours(t, b, to.cell, weather.Analysis, hourOf(5, 2, 9), hourOf(5, 3, 3))
	b.write(t, func(ctx context.Context, w store.Writer) { require.NoError(t, w.CopyHours(ctx, from.cell, to.cell)) })
	want := []weather.Hour{hourOf(5, 1, 1), hourOf(5, 2, 9), hourOf(5, 3, 3)}
	require.Equal(t, want, got(b.Hours(t.Context(), to.cell, at(1, 0), at(30, 0)))(t))
	putHours(t, b, to.cell, weather.Observation, hourOf(5, 1, 7))
	require.Equal(t, want, got(b.Hours(t.Context(), to.cell, at(1, 0), at(30, 0)))(t), "a copy keeps its origin")
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
	save(other.cell, want)
	require.Equal(t, want, got(b.Checkpoints(ctx, w.cell))(t))

	want["loam/0"] = store.Checkpoint{AsOf: at(7, 0), Body: []byte("later")}
	save(w.cell, map[string]store.Checkpoint{"loam/0": want["loam/0"]})
	require.Equal(t, want, got(b.Checkpoints(ctx, w.cell))(t))

	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.DropCheckpoints(ctx, w.cell, at(6, 0)))
	})
	delete(want, "loam/0")
	require.Equal(t, want, got(b.Checkpoints(ctx, w.cell))(t), "one that holds up to just then stays")
	require.Len(t, got(b.Checkpoints(ctx, other.cell))(t), 2)
	require.Empty(t, got(b.Checkpoints(ctx, missing))(t))
}
