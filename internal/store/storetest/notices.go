package storetest

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func notice(w world, kind string, revision int) store.Notice {
	return store.Notice{FarmID: w.farm, Subject: fmt.Sprintf("bed:%d", w.bed), FieldID: w.field, BedID: w.bed, Kind: kind,
		Night: "2026-11-14", Revision: revision, IssuedAt: at(12, 16)}
}

func noticeOnce(t *testing.T, b *book) {
	w, other := settle(t, b, "one"), settle(t, b, "other")
	base := notice(w, "harvest-before", 0)
	first := added(t, b, store.Writer.AddNotice, base)
	b.write(t, func(ctx context.Context, wr store.Writer) {
		again := base
		again.IssuedAt, again.Facts = at(13, 0), json.RawMessage(`{"later":true}`)
		_, err := wr.AddNotice(ctx, again)
		require.ErrorIs(t, err, store.ErrExists)
		for name, change := range map[string]func(n *store.Notice){
			"revision": func(n *store.Notice) { n.Revision = 1 },
			"kind":     func(n *store.Notice) { n.Kind = "last-call" },
			"night":    func(n *store.Notice) { n.Night = "2026-11-15" },
			"subject":  func(n *store.Notice) { n.Subject = "field:1" },
			"farm":     func(n *store.Notice) { n.FarmID, n.FieldID, n.BedID = other.farm, 0, 0 },
		} {
			n := base
			change(&n)
			_, err := wr.AddNotice(ctx, n)
			require.NoError(t, err, "usable after the refusal, and another %s is another notice", name)
		}
	})
	require.Equal(t, at(12, 16), got(b.Notice(t.Context(), w.farm, first))(t).IssuedAt, "the first stays")
	require.Len(t, got(b.Notices(t.Context(), w.farm, store.NoticeFilter{}))(t), 5)
}

func noticeKeptWhole(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	want := filled(1, store.Notice{FarmID: w.farm, FieldID: w.field, BedID: w.bed, Likelihood: unit.Some(0.0),
		ForecastID: added(t, b, store.Writer.AddForecast, fullForecast(w.cell))})
	want.Answer, want.AnsweredAt = "", unit.None[time.Time]() // AddAnswer
	want.Facts = json.RawMessage("{ \"tolerance_c\": -6.7, \"name\":\"Rüben \\u003c\" }")
	want.ID = added(t, b, store.Writer.AddNotice, want)
	require.Equal(t, want, got(b.Notice(ctx, w.farm, want.ID))(t), "byte for byte")

	bare := store.Notice{FarmID: w.farm, Subject: "farm:1", Kind: "still-watching", Night: "2026-11-14", IssuedAt: at(14, 0)}
	bare.ID = added(t, b, store.Writer.AddNotice, bare)
	require.Equal(t, bare, got(b.Notice(ctx, w.farm, bare.ID))(t))
	_, err := b.Notice(ctx, other.farm, bare.ID)
	require.ErrorIs(t, err, store.ErrNotFound)
}

func noticesNewestFirst(t *testing.T, b *book) {
	w, other := settle(t, b, "one"), settle(t, b, "other")
	added(t, b, store.Writer.AddNotice, notice(other, "moved", 0))
	var ids []int64
	for i, kind := range []string{"harvest-before", "moved", "last-call", "moved"} {
		n := notice(w, kind, i)
		n.IssuedAt = at(10+i, 12)
		if kind == "last-call" {
			n.BedID, n.Subject = 0, fmt.Sprintf("field:%d", w.field)
		}
		ids = append([]int64{added(t, b, store.Writer.AddNotice, n)}, ids...)
	}
	for name, c := range map[string]struct {
		f    store.NoticeFilter
		want []int64
	}{
		"all":         {store.NoticeFilter{}, ids},
		"first page":  {store.NoticeFilter{Page: store.Page{Limit: 3}}, ids[:3]},
		"next page":   {store.NoticeFilter{Page: store.Page{Limit: 3, After: ids[2]}}, ids[3:]},
		"kind":        {store.NoticeFilter{Kind: "moved"}, []int64{ids[0], ids[2]}},
		"bed":         {store.NoticeFilter{BedID: w.bed}, []int64{ids[0], ids[2], ids[3]}},
		"field":       {store.NoticeFilter{FieldID: w.field}, ids},
		"no field":    {store.NoticeFilter{FieldID: other.field}, nil},
		"foreign bed": {store.NoticeFilter{BedID: other.bed}, nil},
		"from":        {store.NoticeFilter{From: at(12, 12)}, ids[:2]},
		"to":          {store.NoticeFilter{To: at(12, 12)}, ids[2:]},
		"together":    {store.NoticeFilter{Kind: "moved", BedID: w.bed, From: at(11, 0), To: at(12, 0)}, ids[2:3]},
	} {
		var seen []int64
		for _, n := range got(b.Notices(t.Context(), w.farm, c.f))(t) {
			seen = append(seen, n.ID)
		}
		require.Equal(t, c.want, seen, name)
	}
}

func answers(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	id := added(t, b, store.Writer.AddNotice, notice(w, "harvest-before", 0))
	quiet := added(t, b, store.Writer.AddNotice, notice(w, "moved", 1))
	say := func(hour int, what string) farm.Answer {
		a := farm.Answer{FarmID: w.farm, NoticeID: id, BedID: w.bed, RecipientID: w.recipient, Answer: what, HarvestedKg: unit.Some(0.0), At: at(13, hour)}
		a.ID = added(t, b, store.Writer.AddAnswer, a)
		return a
	}
	first, second := say(8, farm.Seen), say(10, farm.Harvested)
	late := farm.Answer{FarmID: w.farm, NoticeID: id, Answer: farm.LeaveIt, At: at(13, 9)} // came by a slower way
	late.ID = added(t, b, store.Writer.AddAnswer, late)
	require.Equal(t, []farm.Answer{first, second, late}, got(b.Answers(ctx, w.farm, id))(t))
	require.Empty(t, got(b.Answers(ctx, other.farm, id))(t), "another farm's")
	require.Empty(t, got(b.Answers(ctx, w.farm, quiet))(t), "another notice's")
	require.Empty(t, got(b.Notice(ctx, w.farm, quiet))(t).Answer)
	n := got(b.Notice(ctx, w.farm, id))(t)
	require.Equal(t, farm.Harvested, n.Answer, "the latest by its time")
	require.Equal(t, unit.Some(at(13, 10)), n.AnsweredAt)
	say(10, farm.Covered)
	require.Equal(t, farm.Covered, got(b.Notice(ctx, w.farm, id))(t).Answer, "of two at the same time the later entry")
	require.ErrorIs(t, b.try(t, func(ctx context.Context, wr store.Writer) error {
		_, err := wr.AddAnswer(ctx, farm.Answer{FarmID: w.farm, NoticeID: missing, Answer: farm.Seen, At: at(13, 0)})
		return err
	}), store.ErrNotFound)
}
