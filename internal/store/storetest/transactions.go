package storetest

import (
	"context"
	"errors"
	"math"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

var errGivenUp = errors.New("given up")

func jobs(t *testing.T, b *book) {
	ctx := t.Context()
	message, cell := store.Job{MessageID: 7}, store.Job{CellID: 3, At: at(5, 0)}
	b.write(t, func(ctx context.Context, w store.Writer) {
		require.NoError(t, w.Enqueue(ctx, message, cell))
		require.NoError(t, w.Enqueue(ctx))
		require.ErrorContains(t, w.Enqueue(ctx, store.Job{}), "must name exactly one")
		require.ErrorContains(t, w.Enqueue(ctx, store.Job{MessageID: 1, FieldID: 2}), "must name exactly one")
	})
	err := b.try(t, func(ctx context.Context, w store.Writer) error {
		require.NoError(t, w.Enqueue(ctx, store.Job{FieldID: 9}))
		return errGivenUp
	})
	require.ErrorIs(t, err, errGivenUp)
	queued := got(b.Memos(ctx, JobKind))(t)
	require.Len(t, queued, 2)
	require.JSONEq(t, JobBody(message), string(queued[JobOwner(message)]))
	require.JSONEq(t, JobBody(cell), string(queued[JobOwner(cell)]))
}

func rollback(t *testing.T, b *book) {
	err := b.try(t, func(ctx context.Context, w store.Writer) error {
		id := got(w.AddFarm(ctx, farm.New("gone", at(1, 0))))(t)
		require.Equal(t, "gone", got(w.Farm(ctx, id))(t).Name, "seen within the transaction")
		return errGivenUp
	})
	require.Equal(t, errGivenUp, err, "the error of fn as it is")
	require.Empty(t, got(b.Farms(t.Context(), store.Page{}))(t))
	added(t, b, store.Writer.AddFarm, farm.New("after", at(1, 0)))
}

func panicRollsBack(t *testing.T, b *book) {
	require.PanicsWithValue(t, "torn", func() {
		_ = b.try(t, func(ctx context.Context, w store.Writer) error {
			got(w.AddFarm(ctx, farm.New("gone", at(1, 0))))(t)
			panic("torn")
		})
	})
	require.Empty(t, got(b.Farms(t.Context(), store.Page{}))(t))
	added(t, b, store.Writer.AddFarm, farm.New("after", at(1, 0)))
}

func readersSeeCommitted(t *testing.T, b *book) {
	b.write(t, func(ctx context.Context, w store.Writer) {
		id := got(w.AddFarm(ctx, farm.New("new", at(1, 0))))(t)
		_, err := b.Farm(ctx, id)
		require.ErrorIs(t, err, store.ErrNotFound, "a reader neither waits nor sees what may be rolled back")
	})
	require.Len(t, got(b.Farms(t.Context(), store.Page{}))(t), 1)
	require.NoError(t, b.Ping(t.Context()))
}

// twoWriters read and change the same row: no change is lost.
func twoWriters(t *testing.T, b *book) {
	id := added(t, b, store.Writer.AddFarm, farm.New("shared", at(1, 0)))
	const writers, changes = 2, 20
	var all sync.WaitGroup
	for range writers {
		all.Go(func() {
			for done := 0; done < changes; {
				err := b.Write(t.Context(), func(w store.Writer) error {
					f, err := w.Farm(t.Context(), id)
					if err != nil {
						return err
					}
					f.NoticeLead += 3600e9
					return w.UpdateFarm(t.Context(), f)
				})
				if err == nil {
					done++
				} else if !errors.Is(err, store.ErrChanged) {
					t.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	f := got(b.Farm(t.Context(), id))(t)
	require.EqualValues(t, 1+writers*changes, f.Version)
	require.Equal(t, farm.DefaultNoticeLead+writers*changes*3600e9, f.NoticeLead)
}

func oneOfManyAdds(t *testing.T, b *book) {
	w := settle(t, b, "one")
	var wrote, refused atomic.Int64
	var all sync.WaitGroup
	for range 6 {
		all.Go(func() {
			err := b.Write(t.Context(), func(wr store.Writer) error {
				_, err := wr.AddNotice(t.Context(), notice(w, "harvest-before", 0))
				if errors.Is(err, store.ErrExists) {
					refused.Add(1)
					_, err = wr.Farm(t.Context(), w.farm) // still usable
					return err
				}
				wrote.Add(1)
				return err
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	require.EqualValues(t, 1, wrote.Load())
	require.EqualValues(t, 5, refused.Load())
	require.Len(t, got(b.Notices(t.Context(), w.farm, store.NoticeFilter{}))(t), 1)
}

func cancelled(t *testing.T, b *book) {
	ctx, cancel := context.WithCancel(t.Context())
	err := b.Write(ctx, func(w store.Writer) error {
		got(w.AddFarm(ctx, farm.New("gone", at(1, 0))))(t)
		cancel()
		return nil
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Empty(t, got(b.Farms(t.Context(), store.Page{}))(t))
	added(t, b, store.Writer.AddFarm, farm.New("after", at(1, 0)))
}

func reopened(t *testing.T, b *book) {
	w := settle(t, b, "kept")
	want := farm.Bed{FarmID: w.farm, FieldID: w.field, Name: "2", StandingKg: unit.Some(20.0), CreatedAt: at(1, 0)}
	want.ID = added(t, b, store.Writer.AddBed, want)
	want.Version = 1
	var secret []byte
	b.write(t, func(ctx context.Context, wr store.Writer) { secret = got(wr.Secret(ctx, "links"))(t) })
	require.NoError(t, b.Close())
	_, err := b.Farm(t.Context(), w.farm)
	require.Error(t, err, "closed")

	again := &book{Store: b.open(t)}
	defer again.Close()
	require.Equal(t, want, got(again.Bed(t.Context(), w.farm, want.ID))(t))
	again.write(t, func(ctx context.Context, wr store.Writer) { require.Equal(t, secret, got(wr.Secret(ctx, "links"))(t)) })
}

func badText(t *testing.T, b *book) {
	for name, text := range map[string]string{"NUL": "a\x00b", "not UTF-8": "a\xffb"} {
		err := b.try(t, func(ctx context.Context, w store.Writer) error {
			_, err := w.AddFarm(ctx, farm.New(text, at(1, 0)))
			return err
		})
		require.ErrorContains(t, err, "name: must be UTF-8 text without NUL", name)
	}
}

var notNumbers = map[string]float64{"NaN": math.NaN(), "+Inf": math.Inf(1), "-Inf": math.Inf(-1)}
