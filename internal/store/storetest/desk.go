package storetest

import (
	"context"
	"encoding/json"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func memos(t *testing.T, b *book) {
	ctx := t.Context()
	_, err := b.Memo(ctx, "farm:1", "bias")
	require.ErrorIs(t, err, store.ErrNotFound)
	b.write(t, func(ctx context.Context, w store.Writer) {
		require.NoError(t, w.SetMemo(ctx, "field:1", "bias", json.RawMessage(`{"k": 1}`), at(1, 0)))
		require.NoError(t, w.SetMemo(ctx, "field:2", "bias", json.RawMessage(`2`), at(1, 0)))
		require.NoError(t, w.SetMemo(ctx, "field:1", "other", json.RawMessage(`null`), at(1, 0)))
		require.NoError(t, w.SetMemo(ctx, "field:1", "bias", json.RawMessage(`{"k":  3}`), at(2, 0)))
		require.NoError(t, w.DropMemo(ctx, "field:2", "none"))
	})
	require.JSONEq(t, `{"k":3}`, string(got(b.Memo(ctx, "field:1", "bias"))(t)))
	require.JSONEq(t, `2`, string(got(b.Memo(ctx, "field:2", "bias"))(t)))
	require.JSONEq(t, `null`, string(got(b.Memo(ctx, "field:1", "other"))(t)))
	require.Equal(t, map[string]json.RawMessage{"field:1": json.RawMessage(`{"k":  3}`), "field:2": json.RawMessage(`2`)}, got(b.Memos(ctx, "bias"))(t))
	b.write(t, func(ctx context.Context, w store.Writer) { require.NoError(t, w.DropMemo(ctx, "field:1", "bias")) })
	require.Equal(t, map[string]json.RawMessage{"field:2": json.RawMessage(`2`)}, got(b.Memos(ctx, "bias"))(t))
	require.Len(t, got(b.Memos(ctx, "other"))(t), 1)
	require.Empty(t, got(b.Memos(ctx, "none"))(t))
	require.ErrorContains(t, b.try(t, func(ctx context.Context, w store.Writer) error {
		return w.SetMemo(ctx, "x", "y", nil, at(1, 0))
	}), "body: missing")
}

func replies(t *testing.T, b *book) {
	ctx := t.Context()
	w, other := settle(t, b, "one"), settle(t, b, "other")
	want := filled(1, store.Reply{FarmID: w.farm, Key: "k", Body: []byte("{}\n\x00\xff")})
	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.Remember(ctx, want))
		later := want
		later.Status = 500
		require.ErrorIs(t, wr.Remember(ctx, later), store.ErrExists)
		require.NoError(t, wr.Remember(ctx, store.Reply{FarmID: other.farm, Key: "k", Body: []byte{}, Until: at(3, 0)}))
		require.NoError(t, wr.Remember(ctx, store.Reply{FarmID: w.farm, Key: "l", Body: []byte{}, Until: at(3, 0)}))
	})
	require.Equal(t, want, got(b.Reply(ctx, w.farm, "k"))(t))
	require.Equal(t, 0, got(b.Reply(ctx, other.farm, "k"))(t).Status)
	require.Equal(t, "l", got(b.Reply(ctx, w.farm, "l"))(t).Key)
	_, err := b.Reply(ctx, w.farm, "none")
	require.ErrorIs(t, err, store.ErrNotFound)
}

func sessions(t *testing.T, b *book) {
	ctx := t.Context()
	w := settle(t, b, "one")
	want := filled(1, store.Session{Hash: "h", FarmID: w.farm, RecipientID: w.recipient})
	byToken := store.Session{Hash: "t", FarmID: w.farm, Scope: farm.ScopeRead, CSRF: "d", Until: at(3, 0)}
	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.AddSession(ctx, want))
		require.ErrorIs(t, wr.AddSession(ctx, want), store.ErrExists)
		require.NoError(t, wr.AddSession(ctx, byToken))
	})
	require.Equal(t, want, got(b.Session(ctx, "h"))(t))
	require.Equal(t, byToken, got(b.Session(ctx, "t"))(t))
	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.DropSession(ctx, "h"))
		require.NoError(t, wr.DropSession(ctx, "h"))
	})
	_, err := b.Session(ctx, "h")
	require.ErrorIs(t, err, store.ErrNotFound)
	require.Equal(t, byToken, got(b.Session(ctx, "t"))(t), "the other stays")
}

func usedOnce(t *testing.T, b *book) {
	first := make([]bool, 8)
	var all sync.WaitGroup
	for i := range first {
		all.Go(func() {
			_ = b.Write(t.Context(), func(w store.Writer) (err error) {
				first[i], err = w.UseOnce(t.Context(), "link", at(2, 0))
				return err
			})
		})
	}
	all.Wait()
	n := 0
	for _, f := range first {
		if f {
			n++
		}
	}
	require.Equal(t, 1, n)
	b.write(t, func(ctx context.Context, w store.Writer) {
		require.False(t, got(w.UseOnce(ctx, "link", at(9, 0)))(t))
		require.True(t, got(w.UseOnce(ctx, "another", at(2, 0)))(t), "still usable")
	})
}

func secretsOnce(t *testing.T, b *book) {
	made := make([][]byte, 8)
	var all sync.WaitGroup
	for i := range made {
		all.Go(func() {
			_ = b.Write(t.Context(), func(w store.Writer) (err error) {
				made[i], err = w.Secret(t.Context(), "links")
				return err
			})
		})
	}
	all.Wait()
	for _, s := range made {
		require.Len(t, s, 32)
		require.Equal(t, made[0], s)
	}
	b.write(t, func(ctx context.Context, w store.Writer) {
		require.NotEqual(t, made[0], got(w.Secret(ctx, "other"))(t))
		require.Equal(t, made[0], got(w.Secret(ctx, "links"))(t))
	})
}

func counts(t *testing.T, b *book) {
	ctx := t.Context()
	require.Equal(t, store.Counts{}, got(b.Counts(ctx))(t), "of an empty book nothing is oldest")
	w, other := settle(t, b, "one"), settle(t, b, "other")
	added(t, b, store.Writer.AddNotice, notice(w, "moved", 0))
	for i, state := range []string{store.Queued, store.Sent, store.Queued, store.GivenUp, store.Dropped} {
		m := message(w, string(rune('a'+i)))
		m.State, m.CreatedAt = state, at(12, 10-i)
		added(t, b, store.Writer.AddMessage, m)
	}
	for _, f := range []struct {
		cell int64
		hour int
	}{{w.cell, 1}, {w.cell, 9}, {other.cell, 5}, {other.cell, 2}} {
		fc := fullForecast(f.cell)
		fc.Issued = at(10, f.hour)
		added(t, b, store.Writer.AddForecast, fc)
	}
	unused := fullForecast(added(t, b, store.Writer.SaveCell, store.Cell{Key: "unused"}))
	unused.Issued = at(1, 0)
	added(t, b, store.Writer.AddForecast, unused)
	cleared, removed, idle := settle(t, b, "cleared"), settle(t, b, "removed"), settle(t, b, "idle")
	clearBed(t, b, cleared)
	removeField(t, b, removed)
	moveBed(t, b, idle)
	for _, unused := range []world{cleared, removed, idle} {
		f := fullForecast(unused.cell)
		f.Issued = at(2, 0)
		added(t, b, store.Writer.AddForecast, f)
	}
	require.Equal(t, store.Counts{Farms: 5, Fields: 5, Beds: 3, Cells: 6, Notices: 1, MessagesQueued: 2, MessagesSent: 1, GivenUp: 1,
		OldestQueued: unit.Some(at(12, 8)), OldestForecast: unit.Some(at(10, 5))}, got(b.Counts(ctx))(t))
}

func prune(t *testing.T, b *book) {
	ctx := t.Context()
	w := settle(t, b, "one")
	now := at(20, 0)
	issue := func(source string, day int) int64 {
		f := fullForecast(w.cell)
		f.Source, f.Issued = source, at(day, 0)
		return added(t, b, store.Writer.AddForecast, f)
	}
	restedOn, superseded, fresh, newest := issue("nws", 1), issue("nws", 2), issue("nws", 15), issue("metno", 2)
	justNow := issue("nws", 10)
	elsewhere := fullForecast(settle(t, b, "other").cell)
	elsewhere.Source, elsewhere.Issued = "metno", at(16, 0)
	added(t, b, store.Writer.AddForecast, elsewhere)
	n := notice(w, "moved", 0)
	n.ForecastID = restedOn
	added(t, b, store.Writer.AddNotice, n)
	old := now.AddDate(-2, 0, 0).Add(-time.Hour)
	putHours(t, b, w.cell, weather.Import, weather.Hour{At: old}, weather.Hour{At: old.Add(time.Hour)})
	b.write(t, func(ctx context.Context, wr store.Writer) {
		for key, until := range map[string]time.Time{"past": now.Add(-time.Second), "now": now} {
			require.NoError(t, wr.Remember(ctx, store.Reply{FarmID: w.farm, Key: key, Until: until}))
			require.NoError(t, wr.AddSession(ctx, store.Session{Hash: key, FarmID: w.farm, Until: until}))
			require.True(t, got(wr.UseOnce(ctx, key, until))(t))
		}
		require.NoError(t, wr.SaveCheckpoints(ctx, w.cell, map[string]store.Checkpoint{"old": {AsOf: at(9, 0)}, "edge": {AsOf: at(10, 0)}, "new": {AsOf: at(11, 0)}}))
		require.NoError(t, wr.Prune(ctx, now, 10*24*time.Hour))
		require.True(t, got(wr.UseOnce(ctx, "past", now))(t), "forgotten")
		require.False(t, got(wr.UseOnce(ctx, "now", now))(t))
	})
	for id, kept := range map[int64]bool{restedOn: true, superseded: false, fresh: true, justNow: true, newest: true} {
		_, err := b.Forecast(ctx, id)
		require.Equal(t, kept, err == nil, "forecast %d: %v", id, err)
	}
	_, err := b.Reply(ctx, w.farm, "past")
	require.ErrorIs(t, err, store.ErrNotFound)
	_, err = b.Session(ctx, "past")
	require.ErrorIs(t, err, store.ErrNotFound)
	got(b.Reply(ctx, w.farm, "now"))(t)
	got(b.Session(ctx, "now"))(t)
	require.Len(t, got(b.Checkpoints(ctx, w.cell))(t), 2)
	require.Equal(t, []weather.Hour{{At: old.Add(time.Hour)}}, got(b.Hours(ctx, w.cell, old, now))(t))
}
