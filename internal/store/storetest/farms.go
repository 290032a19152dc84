package storetest

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func farmKeptWhole(t *testing.T, b *book) {
	for _, want := range []farm.Farm{filled(1, farm.Farm{}), farm.New("plain", at(2, 0)), {Name: "bare", CreatedAt: at(3, 0)}} {
		want.ID = added(t, b, store.Writer.AddFarm, want)
		want.Version = 1
		require.Equal(t, want, got(b.Farm(t.Context(), want.ID))(t))
		require.Equal(t, want, got(b.FarmByName(t.Context(), want.Name))(t))
	}
	_, err := b.Farm(t.Context(), missing)
	require.ErrorIs(t, err, store.ErrNotFound)
	_, err = b.FarmByName(t.Context(), "nobody's")
	require.ErrorIs(t, err, store.ErrNotFound)
}

func farmNameOnce(t *testing.T, b *book) {
	first := added(t, b, store.Writer.AddFarm, farm.New("one", at(1, 0)))
	b.write(t, func(ctx context.Context, w store.Writer) {
		_, err := w.AddFarm(ctx, farm.New("one", at(2, 0)))
		require.ErrorIs(t, err, store.ErrExists)
		_, err = w.AddFarm(ctx, farm.New("two", at(2, 0)))
		require.NoError(t, err, "the transaction is still usable")
	})
	require.Len(t, got(b.Farms(t.Context(), store.Page{}))(t), 2)
	renamed := got(b.FarmByName(t.Context(), "two"))(t)
	renamed.Name = "one"
	err := b.try(t, func(ctx context.Context, w store.Writer) error { return w.UpdateFarm(ctx, renamed) })
	require.ErrorIs(t, err, store.ErrExists)
	require.Equal(t, first, got(b.FarmByName(t.Context(), "one"))(t).ID)
}

func farmByCalendar(t *testing.T, b *book) {
	f := farm.New("with", at(1, 0))
	f.CalendarSecret = "s3cret"
	id := added(t, b, store.Writer.AddFarm, f)
	added(t, b, store.Writer.AddFarm, farm.New("without", at(1, 0)))
	added(t, b, store.Writer.AddFarm, farm.New("without either", at(1, 0)))
	require.Equal(t, id, got(b.FarmByCalendar(t.Context(), "s3cret"))(t).ID)
	for _, secret := range []string{"", "S3CRET", "other"} {
		_, err := b.FarmByCalendar(t.Context(), secret)
		require.ErrorIs(t, err, store.ErrNotFound, "secret %q", secret)
	}
}

func farmPages(t *testing.T, b *book) {
	var ids []int64
	for _, name := range []string{"c", "a", "b"} {
		ids = append(ids, added(t, b, store.Writer.AddFarm, farm.New(name, at(1, 0))))
	}
	list := func(p store.Page) (seen []int64) {
		for _, f := range got(b.Farms(t.Context(), p))(t) {
			seen = append(seen, f.ID)
		}
		return seen
	}
	require.Equal(t, ids, list(store.Page{}))
	require.Equal(t, ids[:2], list(store.Page{Limit: 2}))
	require.Equal(t, ids[2:], list(store.Page{Limit: 2, After: ids[1]}))
	require.Empty(t, list(store.Page{After: ids[2]}))
}

func farmVersion(t *testing.T, b *book) {
	id := added(t, b, store.Writer.AddFarm, farm.New("one", at(1, 0)))
	seen := got(b.Farm(t.Context(), id))(t)
	another := got(b.Farm(t.Context(), added(t, b, store.Writer.AddFarm, farm.New("another", at(1, 0)))))(t)
	changed := filled(2, farm.Farm{ID: seen.ID, Version: seen.Version, CreatedAt: seen.CreatedAt}) // every member
	b.write(t, func(ctx context.Context, w store.Writer) { require.NoError(t, w.UpdateFarm(ctx, changed)) })
	changed.Version = 2
	require.Equal(t, changed, got(b.Farm(t.Context(), id))(t))

	require.Equal(t, []farm.Farm{changed, another}, got(b.Farms(t.Context(), store.Page{}))(t), "in its place, the other as it was")

	stale := seen
	stale.Name = "late"
	require.ErrorIs(t, b.try(t, func(ctx context.Context, w store.Writer) error { return w.UpdateFarm(ctx, stale) }), store.ErrChanged)
	stale.ID = missing
	require.ErrorIs(t, b.try(t, func(ctx context.Context, w store.Writer) error { return w.UpdateFarm(ctx, stale) }), store.ErrNotFound)
	require.Equal(t, changed, got(b.Farm(t.Context(), id))(t))
}

func tokenUntilRevoked(t *testing.T, b *book) {
	id := added(t, b, store.Writer.AddFarm, farm.New("one", at(1, 0)))
	want := filled(1, farm.Token{FarmID: id, Hash: "ab12"})
	want.RevokedAt = unit.None[time.Time]()
	second := farm.Token{FarmID: id, Hash: "cd34", CreatedAt: at(1, 1)}
	b.write(t, func(ctx context.Context, w store.Writer) {
		require.NoError(t, w.AddToken(ctx, second))
		require.NoError(t, w.AddToken(ctx, want))
		require.ErrorIs(t, w.AddToken(ctx, want), store.ErrExists)
		require.Equal(t, want, got(w.Token(ctx, "ab12"))(t), "still usable, and seen within")
	})
	require.Equal(t, want, got(b.Token(t.Context(), "ab12"))(t))
	b.write(t, func(ctx context.Context, w store.Writer) {
		require.NoError(t, w.RevokeToken(ctx, "ab12", at(2, 0)))
		require.ErrorIs(t, w.RevokeToken(ctx, "ab12", at(3, 0)), store.ErrNotFound)
		require.ErrorIs(t, w.RevokeToken(ctx, "none", at(3, 0)), store.ErrNotFound)
	})
	_, err := b.Token(t.Context(), "ab12")
	require.ErrorIs(t, err, store.ErrNotFound)
	require.Equal(t, second, got(b.Token(t.Context(), "cd34"))(t), "the other still holds")
}
