package storetest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func fieldIDs(fs []store.Field) (ids []int64) {
	for _, f := range fs {
		ids = append(ids, f.ID)
	}
	return ids
}

func bedIDs(bs []farm.Bed) (ids []int64) {
	for _, b := range bs {
		ids = append(ids, b.ID)
	}
	return ids
}

func fieldPlaced(t *testing.T, b *book) {
	ctx := t.Context()
	w := settle(t, b, "one")
	loose := added(t, b, store.Writer.AddField, farm.Field{FarmID: w.farm, Name: "south", CreatedAt: at(1, 0)})
	removed := farm.Field{FarmID: w.farm, Name: "gone", CreatedAt: at(1, 0), RemovedAt: unit.Some(at(2, 0))}
	added(t, b, store.Writer.AddField, removed)
	placed := added(t, b, store.Writer.AddField, removed)
	b.write(t, func(ctx context.Context, wr store.Writer) { require.NoError(t, wr.PlaceField(ctx, placed, w.cell)) })

	require.Equal(t, w.cell, got(b.Field(ctx, w.farm, w.field))(t).CellID)
	require.Equal(t, []int64{loose}, fieldIDs(got(b.UnplacedFields(ctx))(t)))
	require.Equal(t, []int64{w.field}, fieldIDs(got(b.FieldsOfCell(ctx, w.cell))(t)))

	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.PlaceField(ctx, loose, w.cell))
		require.NoError(t, wr.PlaceField(ctx, w.field, 0), "0 takes the place away")
		require.ErrorIs(t, wr.PlaceField(ctx, missing, w.cell), store.ErrNotFound)
	})
	require.Equal(t, []int64{w.field}, fieldIDs(got(b.UnplacedFields(ctx))(t)))
	require.Equal(t, []int64{loose}, fieldIDs(got(b.FieldsOfCell(ctx, w.cell))(t)))
	b.write(t, func(ctx context.Context, wr store.Writer) { require.NoError(t, wr.PlaceField(ctx, w.field, w.cell)) })
	require.Equal(t, []int64{w.field, loose}, fieldIDs(got(b.FieldsOfCell(ctx, w.cell))(t)))
	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.PlaceField(ctx, loose, 0))
		require.NoError(t, wr.PlaceField(ctx, w.field, 0))
	})
	require.Equal(t, []int64{w.field, loose}, fieldIDs(got(b.UnplacedFields(ctx))(t)))
	require.EqualValues(t, 1, got(b.Field(ctx, w.farm, loose))(t).Version, "placing is no change of the grower's")
	require.ErrorIs(t, b.try(t, func(ctx context.Context, wr store.Writer) error {
		return wr.PlaceField(ctx, loose, missing)
	}), store.ErrNotFound)
}

func bedFilter(t *testing.T, b *book) {
	ctx := t.Context()
	w := settle(t, b, "one")
	second := added(t, b, store.Writer.AddField, farm.Field{FarmID: w.farm, Name: "south", CreatedAt: at(1, 0)})
	gone := added(t, b, store.Writer.AddField, farm.Field{FarmID: w.farm, Name: "gone", CreatedAt: at(1, 0), RemovedAt: unit.Some(at(2, 0))})
	bed := func(field int64, cleared bool) int64 {
		x := farm.Bed{FarmID: w.farm, FieldID: field, Name: "x", Crop: "kale", CreatedAt: at(1, 0)}
		if cleared {
			x.ClearedAt = unit.Some(at(3, 0))
		}
		return added(t, b, store.Writer.AddBed, x)
	}
	cleared, south, abandoned := bed(w.field, true), bed(second, false), bed(gone, false)
	for name, c := range map[string]struct {
		f    store.BedFilter
		want []int64
	}{
		"standing":         {store.BedFilter{}, []int64{w.bed, south}},
		"cleared too":      {store.BedFilter{Cleared: true}, []int64{w.bed, cleared, south, abandoned}},
		"of a field":       {store.BedFilter{FieldID: w.field}, []int64{w.bed}},
		"of it, all":       {store.BedFilter{FieldID: w.field, Cleared: true}, []int64{w.bed, cleared}},
		"of a removed one": {store.BedFilter{FieldID: gone}, nil},
		"page":             {store.BedFilter{Cleared: true, Page: store.Page{After: w.bed, Limit: 2}}, []int64{cleared, south}},
	} {
		require.Equal(t, c.want, bedIDs(got(b.Beds(ctx, w.farm, c.f))(t)), name)
	}
}

func noForeignReference(t *testing.T, b *book) {
	mine, other := settle(t, b, "mine"), settle(t, b, "other")
	room := added(t, b, store.Writer.AddRoom, farm.Room{FarmID: other.farm, Name: "r", Kind: farm.Cellar, CreatedAt: at(1, 0)})
	notice := added(t, b, store.Writer.AddNotice, store.Notice{FarmID: other.farm, Subject: "farm:1", Kind: "blind", Night: "2026-11-14", IssuedAt: at(14, 0)})
	for name, add := range map[string]func(ctx context.Context, w store.Writer) error{
		"bed in a field": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddBed(ctx, farm.Bed{FarmID: mine.farm, FieldID: other.field, Name: "x", CreatedAt: at(1, 0)})
			return err
		},
		"bed moved to a field": func(ctx context.Context, w store.Writer) error {
			x, err := w.Bed(ctx, mine.farm, mine.bed)
			x.FieldID = other.field
			if err != nil {
				return err
			}
			return w.UpdateBed(ctx, x)
		},
		"lot in a room": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddLot(ctx, farm.Lot{FarmID: mine.farm, RoomID: room, Crop: "leek", HarvestedAt: at(1, 0), CreatedAt: at(1, 0)})
			return err
		},
		"reading of a field": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddReadings(ctx, []farm.Reading{{FarmID: mine.farm, FieldID: other.field, At: at(1, 0), Quantity: farm.ReadAir}})
			return err
		},
		"finding of a bed": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddFinding(ctx, farm.Finding{FarmID: mine.farm, BedID: other.bed, Night: "2026-11-14", CreatedAt: at(15, 0)})
			return err
		},
		"notice of a bed": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddNotice(ctx, store.Notice{FarmID: mine.farm, Subject: "bed:9", BedID: other.bed, Kind: "moved", Night: "2026-11-14", IssuedAt: at(14, 0)})
			return err
		},
		"answer to a notice": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddAnswer(ctx, farm.Answer{FarmID: mine.farm, NoticeID: notice, Answer: farm.Seen, At: at(14, 1)})
			return err
		},
		"message to a recipient": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddMessage(ctx, store.Message{FarmID: mine.farm, RecipientID: other.recipient, Key: "k1", State: store.Queued})
			return err
		},
		"message with a notice": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddMessage(ctx, store.Message{FarmID: mine.farm, RecipientID: mine.recipient, Key: "k2", State: store.Queued, NoticeIDs: []int64{notice}})
			return err
		},
		"judgement of a bed": func(ctx context.Context, w store.Writer) error {
			return w.AddJudgements(ctx, []store.Judgement{{FarmID: mine.farm, BedID: other.bed, Night: "2026-11-14"}})
		},
		"session of a recipient": func(ctx context.Context, w store.Writer) error {
			return w.AddSession(ctx, store.Session{Hash: "h", FarmID: mine.farm, RecipientID: other.recipient})
		},
		"token of no farm": func(ctx context.Context, w store.Writer) error {
			return w.AddToken(ctx, farm.Token{FarmID: missing, Hash: "h"})
		},
		"verdict of no bed": func(ctx context.Context, w store.Writer) error {
			return w.SaveVerdicts(ctx, []store.Verdict{{BedID: missing, Kept: farm.Keep(farm.Verdict{State: farm.Holds})}})
		},
		"forecast of no cell": func(ctx context.Context, w store.Writer) error {
			_, err := w.AddForecast(ctx, store.Forecast{CellID: missing, Source: "nws"})
			return err
		},
	} {
		require.ErrorIs(t, b.try(t, add), store.ErrNotFound, name)
	}
	require.Empty(t, got(b.Readings(t.Context(), mine.farm, other.field, at(1, 0), at(30, 0)))(t))
	require.Empty(t, got(b.Answers(t.Context(), mine.farm, notice))(t))
	_, err := b.Notice(t.Context(), mine.farm, notice)
	require.ErrorIs(t, err, store.ErrNotFound)
}

func recipientsByAddress(t *testing.T, b *book) {
	ctx := t.Context()
	one := added(t, b, store.Writer.AddFarm, farm.New("one", at(1, 0)))
	two := added(t, b, store.Writer.AddFarm, farm.New("two", at(1, 0)))
	add := func(farmID int64, email, phone string, removed bool) int64 {
		r := farm.Recipient{FarmID: farmID, Name: "r", Email: email, Phone: phone, CreatedAt: at(1, 0)}
		if removed {
			r.RemovedAt = unit.Some(at(2, 0))
		}
		return added(t, b, store.Writer.AddRecipient, r)
	}
	a := add(one, "Ann@Example.org", "+12025550123", false)
	c := add(two, "ann@example.org", "+12025550123", false)
	add(two, "ann@example.org", "+12025550123", true)
	add(two, "", "", false)
	ids := func(rs []farm.Recipient) (ids []int64) {
		for _, r := range rs {
			ids = append(ids, r.ID)
		}
		return ids
	}
	require.Equal(t, []int64{a, c}, ids(got(b.RecipientsByEmail(ctx, "ANN@example.org"))(t)))
	require.Equal(t, []int64{a, c}, ids(got(b.RecipientsByPhone(ctx, "+12025550123"))(t)))
	require.Empty(t, got(b.RecipientsByPhone(ctx, ""))(t))
	require.Empty(t, got(b.RecipientsByEmail(ctx, ""))(t))
	require.Empty(t, got(b.RecipientsByEmail(ctx, "bob@example.org"))(t))
}

func readingsByTime(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	read := func(x world, hour int, v float64) farm.Reading {
		return farm.Reading{FarmID: x.farm, FieldID: x.field, At: at(5, hour), Quantity: farm.ReadSoil, DepthCm: unit.Some(10.0), Value: v}
	}
	south := w
	south.field = added(t, b, store.Writer.AddField, farm.Field{FarmID: w.farm, Name: "south", CreatedAt: at(1, 0)})
	want := []farm.Reading{read(w, 9, -1.25), read(w, 6, 0), {FarmID: w.farm, FieldID: w.field, At: at(5, 6), Quantity: farm.ReadAirMin, Value: -7}}
	b.write(t, func(ctx context.Context, wr store.Writer) {
		ids := got(wr.AddReadings(ctx, append(want, read(other, 7, 3), read(south, 7, 4))))(t)
		require.Len(t, ids, 5)
		for i := range want {
			want[i].ID = ids[i]
		}
		require.Empty(t, got(wr.AddReadings(ctx, nil))(t))
	})
	in := func(from, to int) []farm.Reading {
		return got(b.Readings(ctx, w.farm, w.field, at(5, from), at(5, to)))(t)
	}
	require.Equal(t, []farm.Reading{want[1], want[2], want[0]}, in(0, 23))
	require.Equal(t, []farm.Reading{want[1], want[2]}, in(6, 9))
	require.Empty(t, in(7, 9))
	require.Empty(t, got(b.Readings(ctx, other.farm, w.field, at(5, 0), at(6, 0)))(t), "another farm's")
}

func findingsByBed(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	second := added(t, b, store.Writer.AddBed, farm.Bed{FarmID: w.farm, FieldID: w.field, Name: "2", CreatedAt: at(1, 0)})
	find := func(farmID, bed int64) farm.Finding {
		f := filled(1, farm.Finding{FarmID: farmID, BedID: bed})
		f.ID = added(t, b, store.Writer.AddFinding, f)
		return f
	}
	first, next := find(w.farm, w.bed), find(w.farm, second)
	find(other.farm, other.bed)
	require.Equal(t, []farm.Finding{first, next}, got(b.Findings(ctx, w.farm, 0))(t))
	require.Equal(t, []farm.Finding{next}, got(b.Findings(ctx, w.farm, second))(t))
	require.Empty(t, got(b.Findings(ctx, w.farm, other.bed))(t))
}
