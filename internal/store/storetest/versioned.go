package storetest

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// versioned checks what all nouns of a farm have in common: kept whole, listed
// by ID in pages, hidden from other farms, changed only by who saw the latest
// version, left out of lists when ended but still found.
type versioned[T any] struct {
	bare    T // of the farm of mine, and whatever it must point at
	id      func(*T) *int64
	version func(*T) *int64
	farm    func(*T) *int64
	added   func(*T) *time.Time
	ended   func(*T) *unit.Maybe[time.Time]
	add     func(store.Writer, context.Context, T) (int64, error)
	get     func(store.Reader, context.Context, int64, int64) (T, error)
	list    func(store.Reader, context.Context, int64, store.Page) ([]T, error)
	update  func(store.Writer, context.Context, T) error
	move    func(*T) // changes what it points at; nil: nothing
}

// full has every member set that is its own, and has not ended.
func (v versioned[T]) full(turn int) T {
	x := filled(turn, v.bare)
	*v.id(&x), *v.version(&x), *v.ended(&x) = 0, 0, unit.None[time.Time]()
	return x
}

func (v versioned[T]) check(t *testing.T, b *book, mine, other int64) {
	kept := v.keepWhole(t, b, mine, other)
	v.checkPages(t, b, mine, other, kept)
	v.checkChange(t, b, mine, other, kept)
	v.checkEnd(t, b, mine, kept[1])
}

func (v versioned[T]) keepWhole(t *testing.T, b *book, mine, other int64) (kept []T) {
	for _, want := range []T{v.full(1), v.bare, v.full(2)} {
		*v.id(&want) = added(t, b, v.add, want)
		*v.version(&want) = 1
		require.Equal(t, want, got(v.get(b.Reader, t.Context(), mine, *v.id(&want)))(t))
		_, err := v.get(b.Reader, t.Context(), other, *v.id(&want))
		require.ErrorIs(t, err, store.ErrNotFound, "another farm's")
		kept = append(kept, want)
	}
	_, err := v.get(b.Reader, t.Context(), mine, missing)
	require.ErrorIs(t, err, store.ErrNotFound)
	return kept
}

func (v versioned[T]) checkPages(t *testing.T, b *book, mine, other int64, kept []T) {
	ctx := t.Context()
	require.Equal(t, kept, got(v.list(b.Reader, ctx, mine, store.Page{}))(t))
	require.Equal(t, kept[:1], got(v.list(b.Reader, ctx, mine, store.Page{Limit: 1}))(t))
	require.Equal(t, kept[1:2], got(v.list(b.Reader, ctx, mine, store.Page{Limit: 1, After: *v.id(&kept[0])}))(t))
	require.Equal(t, kept[1:], got(v.list(b.Reader, ctx, mine, store.Page{After: *v.id(&kept[0])}))(t))
	require.Empty(t, got(v.list(b.Reader, ctx, other, store.Page{}))(t))
}

func (v versioned[T]) checkChange(t *testing.T, b *book, mine, other int64, kept []T) {
	seen := kept[0]
	change := func(x T) error {
		return b.try(t, func(ctx context.Context, w store.Writer) error { return v.update(w, ctx, x) })
	}
	changed := v.full(4) // every member
	*v.id(&changed), *v.version(&changed), *v.added(&changed) = *v.id(&seen), *v.version(&seen), *v.added(&seen)
	if v.move != nil {
		v.move(&changed)
	}
	require.NoError(t, change(changed))
	require.ErrorIs(t, change(changed), store.ErrChanged, "the version seen is no longer the one stored")
	*v.version(&changed) = 2
	require.Equal(t, changed, got(v.get(b.Reader, t.Context(), mine, *v.id(&seen)))(t))

	foreign, absent := changed, changed
	*v.farm(&foreign) = other
	require.ErrorIs(t, change(foreign), store.ErrNotFound)
	*v.id(&absent) = missing
	require.ErrorIs(t, change(absent), store.ErrNotFound)
	list := got(v.list(b.Reader, t.Context(), mine, store.Page{}))(t)
	require.Equal(t, changed, list[0], "a row that has changed keeps its place")
	require.Equal(t, kept[1:], list[1:], "and the others stay as they were")
}

func (v versioned[T]) checkEnd(t *testing.T, b *book, mine int64, x T) {
	ctx := t.Context()
	before := len(got(v.list(b.Reader, ctx, mine, store.Page{}))(t))
	*v.ended(&x) = unit.Some(at(20, 0))
	require.NoError(t, b.try(t, func(ctx context.Context, w store.Writer) error { return v.update(w, ctx, x) }))
	*v.version(&x) = 2
	require.Equal(t, x, got(v.get(b.Reader, ctx, mine, *v.id(&x)))(t))
	require.Len(t, got(v.list(b.Reader, ctx, mine, store.Page{}))(t), before-1)
}
