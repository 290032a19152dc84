package storetest

import (
	"context"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

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
	putHours(t, b, w.cell, weather.Observation, hourOf(5, 1, 7), hourOf(5, 1, 1.5)) // the last counts
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
		for range rapid.IntRange(1, 5).Draw(r, "writes") {
			o := rapid.IntRange(0, 3).Draw(r, "origin")
			var hours []weather.Hour
			for _, h := range rapid.SliceOfNDistinct(rapid.IntRange(0, 4), 0, 5, rapid.ID).Draw(r, "hours") {
				x := drawHour(r, at(5, h))
				hours = append(hours, x)
				if k := x.At.Unix(); o >= rank[k] {
					kept[k], rank[k] = overlaid(x, kept[k]), o
				} else {
					kept[k] = overlaid(kept[k], x)
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

// drawHour knows some quantities of an hour.
func drawHour(r *rapid.T, t time.Time) weather.Hour {
	draw := func(name string) unit.Maybe[float64] {
		if rapid.Bool().Draw(r, name+" is known") {
			return unit.Some(float64(rapid.IntRange(-400, 300).Draw(r, name)) / 10)
		}
		return unit.None[float64]()
	}
	celsius := func(name string) unit.Maybe[unit.Celsius] {
		v, ok := draw(name).Get()
		if !ok {
			return unit.None[unit.Celsius]()
		}
		return unit.Some(unit.Celsius(v))
	}
	return weather.Hour{At: t, Air: celsius("air"), DewPoint: celsius("dew point"), Wind: draw("wind"), Cloud: draw("cloud"),
		Precip: draw("precip"), SnowDepth: draw("snow depth"), Shortwave: draw("shortwave")}
}

// overlaid is what one hour knows, and the other where that does not.
func overlaid(over, under weather.Hour) weather.Hour {
	known(&over.Air, under.Air)
	known(&over.DewPoint, under.DewPoint)
	known(&over.Wind, under.Wind)
	known(&over.Cloud, under.Cloud)
	known(&over.Precip, under.Precip)
	known(&over.SnowDepth, under.SnowDepth)
	known(&over.Shortwave, under.Shortwave)
	return over
}

// known takes a value over where there is none.
func known[T any](over *unit.Maybe[T], under unit.Maybe[T]) {
	if !over.Known() {
		*over = under
	}
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
	putHours(t, b, settle(t, b, "neither").cell, weather.Import, hourOf(5, 4, 4))
	b.write(t, func(ctx context.Context, w store.Writer) { require.NoError(t, w.CopyHours(ctx, from.cell, to.cell)) })
	want := []weather.Hour{hourOf(5, 1, 1), hourOf(5, 2, 9), hourOf(5, 3, 3)}
	require.Equal(t, want, got(b.Hours(t.Context(), to.cell, at(1, 0), at(30, 0)))(t))
	putHours(t, b, to.cell, weather.Observation, hourOf(5, 1, 7))
	require.Equal(t, want, got(b.Hours(t.Context(), to.cell, at(1, 0), at(30, 0)))(t), "a copy keeps its origin")
}
