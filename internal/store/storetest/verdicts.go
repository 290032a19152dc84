package storetest

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func saveVerdicts(t *testing.T, b *book, vs ...store.Verdict) {
	t.Helper()
	b.write(t, func(ctx context.Context, w store.Writer) { require.NoError(t, w.SaveVerdicts(ctx, vs)) })
}

func verdicts(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	_, err := b.Verdict(ctx, w.bed)
	require.ErrorIs(t, err, store.ErrNotFound)
	cleared := added(t, b, store.Writer.AddBed, farm.Bed{FarmID: w.farm, FieldID: w.field, Name: "c", CreatedAt: at(1, 0), ClearedAt: unit.Some(at(2, 0))})
	gone := added(t, b, store.Writer.AddField, farm.Field{FarmID: w.farm, Name: "gone", CreatedAt: at(1, 0), RemovedAt: unit.Some(at(2, 0))})
	b.write(t, func(ctx context.Context, wr store.Writer) { require.NoError(t, wr.PlaceField(ctx, gone, w.cell)) })
	abandoned := added(t, b, store.Writer.AddBed, farm.Bed{FarmID: w.farm, FieldID: gone, Name: "a", CreatedAt: at(1, 0)})
	full := filled(1, store.Verdict{BedID: w.bed})
	bare := store.Verdict{BedID: other.bed, Kept: farm.Keep(farm.Verdict{State: farm.Unknown, AsOf: at(10, 7)})}
	ended := farm.Keep(farm.Verdict{State: farm.Holds, AsOf: at(1, 0)})
	saveVerdicts(t, b, bare, full, store.Verdict{BedID: cleared, Kept: ended}, store.Verdict{BedID: abandoned, Kept: ended})
	require.Equal(t, full, got(b.Verdict(ctx, w.bed))(t), "whole")
	require.Equal(t, map[int64]store.Verdict{w.bed: full}, got(b.Verdicts(ctx, w.farm))(t), "standing beds only")
	require.Equal(t, bare, got(b.Verdict(ctx, other.bed))(t))
	require.Equal(t, map[int64]store.Verdict{other.bed: bare}, got(b.VerdictsOfCell(ctx, other.cell))(t))
	require.Equal(t, map[int64]store.Verdict{w.bed: full}, got(b.VerdictsOfCell(ctx, w.cell))(t), "standing beds only")

	later := bare
	later.BedID, later.Kept = w.bed, farm.Keep(farm.Verdict{State: farm.Unknown, AsOf: at(11, 0)})
	changed := filled(2, store.Verdict{BedID: other.bed})
	saveVerdicts(t, b, full, later, changed)
	require.Equal(t, changed, got(b.Verdict(ctx, other.bed))(t), "every member")
	require.Equal(t, later, got(b.Verdict(ctx, w.bed))(t), "the last of a bed counts")
	saveVerdicts(t, b)
	err = b.try(t, func(ctx context.Context, wr store.Writer) error {
		return wr.SaveVerdicts(ctx, []store.Verdict{{BedID: w.bed}})
	})
	require.ErrorContains(t, err, "no verdict to keep")
}

func verdictsInBulk(t *testing.T, b *book) {
	w := settle(t, b, "one")
	want := map[int64]store.Verdict{}
	var vs []store.Verdict
	b.write(t, func(ctx context.Context, wr store.Writer) {
		for i := range 1201 { // more than two statements hold
			id := got(wr.AddBed(ctx, farm.Bed{FarmID: w.farm, FieldID: w.field, Name: fmt.Sprint(i), CreatedAt: at(1, 0)}))(t)
			want[id] = store.Verdict{BedID: id, Kept: farm.Keep(farm.Verdict{State: farm.Holds, AsOf: at(10, i%24), Likelihood: unit.Some(float64(i) / 1201)})}
			vs = append(vs, want[id])
		}
		require.NoError(t, wr.SaveVerdicts(ctx, vs))
	})
	require.Equal(t, want, got(b.VerdictsOfCell(t.Context(), w.cell))(t))
	require.Equal(t, want, got(b.Verdicts(t.Context(), w.farm))(t))
	require.Len(t, got(b.BedsOfCell(t.Context(), w.cell))(t), 1202)
}

func judgement(w world, night farm.Day, lead int) store.Judgement {
	return store.Judgement{FarmID: w.farm, BedID: w.bed, Crop: "spinach", Night: night, LeadDays: lead,
		IssuedAt: at(10, 6), Likelihood: 0.35, CostLoss: 0.2, Acted: true, AirMinC: -9.25}
}

// judgementsOf leaves the IDs out, which the suite cannot foresee.
func judgementsOf(t *testing.T, b *book, farmID int64, from, to farm.Day) (js []store.Judgement) {
	t.Helper()
	last := int64(0)
	for _, j := range got(b.Judgements(t.Context(), farmID, from, to))(t) {
		require.Greater(t, j.ID, last)
		last, j.ID = j.ID, 0
		js = append(js, j)
	}
	return js
}

func judgementsFirst(t *testing.T, b *book) {
	w, other := settle(t, b, "one"), settle(t, b, "other")
	first, second := judgement(w, "2026-11-14", 1), judgement(w, "2026-11-14", 2)
	second.Lost, second.AirMinWas, second.Acted = unit.Some(0.5), unit.Some(-10.0), false
	foreign := filled(1, store.Judgement{FarmID: other.farm, BedID: other.bed, Night: "2026-11-15"})
	foreign.ID = 0 // judgementsOf
	late := first
	late.Likelihood, late.AirMinC = 0.9, -20
	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.AddJudgements(ctx, []store.Judgement{first, late}))
		require.NoError(t, wr.AddJudgements(ctx, []store.Judgement{late, second, foreign}))
		require.NoError(t, wr.AddJudgements(ctx, nil))
	})
	require.Equal(t, []store.Judgement{first, second}, judgementsOf(t, b, w.farm, "2026-11-14", "2026-11-15"))
	require.Equal(t, []store.Judgement{first, second, foreign}, judgementsOf(t, b, 0, "2026-11-14", "2026-11-15"))
	require.Equal(t, []store.Judgement{foreign}, judgementsOf(t, b, 0, "2026-11-15", "2026-11-15"))
	require.Empty(t, judgementsOf(t, b, w.farm, "2026-11-15", "2026-11-30"))
	require.Empty(t, judgementsOf(t, b, 0, "2026-11-01", "2026-11-13"))
	require.Empty(t, judgementsOf(t, b, 0, "2026-11-16", "2026-11-30"))
}

func judgementsScored(t *testing.T, b *book) {
	w, other := settle(t, b, "one"), settle(t, b, "other")
	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.AddJudgements(ctx, []store.Judgement{judgement(w, "2026-11-14", 1), judgement(w, "2026-11-14", 3),
			judgement(w, "2026-11-15", 1), judgement(other, "2026-11-14", 1)}))
		require.NoError(t, wr.ScoreJudgement(ctx, w.bed, "2026-11-14", 0, -8.5))
		require.NoError(t, wr.ScoreJudgement(ctx, missing, "2026-11-14", 1, -8.5), "nothing was judged: nothing to score")
	})
	for _, j := range got(b.Judgements(t.Context(), 0, "2026-11-01", "2026-11-30"))(t) {
		scored := j.BedID == w.bed && j.Night == "2026-11-14"
		require.Equal(t, scored, j.Lost == unit.Some(0.0) && j.AirMinWas == unit.Some(-8.5), "%+v", j)
		require.Equal(t, scored, j.Lost.Known())
	}
}
