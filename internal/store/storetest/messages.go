package storetest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func message(w world, key string) store.Message {
	return store.Message{FarmID: w.farm, RecipientID: w.recipient, Channel: store.SMS, Key: key, State: store.Queued,
		CreatedAt: at(12, 16), NotBefore: at(12, 17)}
}

func messageOnce(t *testing.T, b *book) {
	ctx := t.Context()
	w := settle(t, b, "one")
	second := added(t, b, store.Writer.AddNotice, notice(w, "moved", 1))
	first := added(t, b, store.Writer.AddNotice, notice(w, "last-call", 0))
	other := added(t, b, store.Writer.AddMessage, message(w, "k0"))
	want := filled(1, store.Message{FarmID: w.farm, RecipientID: w.recipient, Key: "k1", NoticeIDs: []int64{first, second}})
	b.write(t, func(ctx context.Context, wr store.Writer) {
		want.ID = got(wr.AddMessage(ctx, want))(t)
		_, err := wr.AddMessage(ctx, want)
		require.ErrorIs(t, err, store.ErrExists)
		require.Equal(t, want, got(wr.Message(ctx, want.ID))(t), "still usable")
	})
	require.Equal(t, want, got(b.Message(ctx, want.ID))(t), "notices in the order given")
	require.Equal(t, want, got(b.MessageByKey(ctx, "k1"))(t))

	test := message(w, "k2")
	test.Test = true
	test.ID = added(t, b, store.Writer.AddMessage, test)
	require.Equal(t, test, got(b.Message(ctx, test.ID))(t))
	require.Equal(t, test, got(b.MessageByKey(ctx, "k2"))(t), "without notices")
	require.Equal(t, []store.Message{test, want, got(b.Message(ctx, other))(t)}, got(b.Messages(ctx, w.farm, store.Page{}))(t))
	_, err := b.Message(ctx, missing)
	require.ErrorIs(t, err, store.ErrNotFound)
	_, err = b.MessageByKey(ctx, "k3")
	require.ErrorIs(t, err, store.ErrNotFound)
}

func messageMarked(t *testing.T, b *book) {
	w := settle(t, b, "one")
	other := message(w, "k0")
	other.ID = added(t, b, store.Writer.AddMessage, other)
	m := message(w, "k1")
	m.ID = added(t, b, store.Writer.AddMessage, m)
	m.State, m.Attempts, m.LastError = store.Sent, 2, "550 caf\xe9 \x00 refused" // as a server may say it
	m.NotBefore, m.SentAt = at(13, 0), unit.Some(at(13, 1))
	b.write(t, func(ctx context.Context, wr store.Writer) {
		marked := m
		marked.Channel, marked.Key = "other", "other"
		require.NoError(t, wr.MarkMessage(ctx, marked))
		require.ErrorIs(t, wr.MarkMessage(ctx, store.Message{ID: missing}), store.ErrNotFound)
	})
	m.LastError = "550 caf\uFFFD \uFFFD refused"
	require.Equal(t, m, got(b.Message(t.Context(), m.ID))(t), "nothing else is marked")
	require.Equal(t, other, got(b.Message(t.Context(), other.ID))(t), "and no other message")
}

func overdue(t *testing.T, b *book) {
	ctx := t.Context()
	w := settle(t, b, "one")
	var ids []int64
	for i, state := range []string{store.Queued, store.Sent, store.Queued, store.GivenUp, store.Queued} {
		m := message(w, string(rune('a'+i)))
		m.State, m.NotBefore = state, at(12, 20-i)
		ids = append(ids, added(t, b, store.Writer.AddMessage, m))
	}
	require.Equal(t, []int64{ids[0], ids[2], ids[4]}, got(b.Overdue(ctx, at(12, 20), 0))(t))
	require.Equal(t, []int64{ids[0], ids[2]}, got(b.Overdue(ctx, at(12, 20), 2))(t))
	require.Equal(t, []int64{ids[2], ids[4]}, got(b.Overdue(ctx, at(12, 18), 10))(t), "its NotBefore itself counts")
	require.Empty(t, got(b.Overdue(ctx, at(12, 15), 10))(t))
}

func messagesOfFarm(t *testing.T, b *book) {
	w, other := settle(t, b, "one"), settle(t, b, "other")
	added(t, b, store.Writer.AddMessage, message(other, "x"))
	var ids []int64
	for _, key := range []string{"a", "b", "c"} {
		ids = append([]int64{added(t, b, store.Writer.AddMessage, message(w, key))}, ids...)
	}
	list := func(p store.Page) (seen []int64) {
		for _, m := range got(b.Messages(t.Context(), w.farm, p))(t) {
			seen = append(seen, m.ID)
		}
		return seen
	}
	require.Equal(t, ids, list(store.Page{}))
	require.Equal(t, ids[:2], list(store.Page{Limit: 2}))
	require.Equal(t, ids[2:], list(store.Page{Limit: 2, After: ids[1]}))
}
