package app_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/app"
	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/store/storetest"
)

// another is a second process on the same database.
func (w *world) another() *app.Service {
	w.Helper()
	s, err := app.New(w.Context(), app.Options{Settings: w.chosen, Now: w.clock.Now, Log: quiet()})
	require.NoError(w, err)
	w.Cleanup(func() { require.NoError(w, s.Close()) })
	s.Runner.Members = w.members
	return s
}

func TestTwoProcessesTellEachThingOnce(t *testing.T) {
	w := newWorld(t, func(o *worldOptions) { o.database = storetest.Database(t) })
	w.ann()
	w.bed("A1", "chard")
	w.bed("A2", "kale-curly")
	services := []*app.Service{w.service, w.another()}
	var mu sync.Mutex
	told := map[string]int{}
	for range 24 {
		w.clock.Add(6 * time.Hour)
		if w.clock.Now().After(begin.Add(20 * time.Hour)) {
			w.snap()
		}
		var both sync.WaitGroup
		for _, s := range services {
			both.Go(func() {
				o, err := s.Runner.Round(t.Context())
				assert.NoError(t, err)
				assert.NoError(t, s.Drain(t.Context()))
				mu.Lock()
				defer mu.Unlock()
				for _, n := range o.Notices {
					told[n.Subject+" "+n.Kind+" "+string(n.Night)]++
				}
			})
		}
		both.Wait()
	}
	assert.NotEmpty(t, told)
	for what, n := range told {
		assert.Equal(t, 1, n, what)
	}
	for _, counts := range []map[string]int{w.caught.MailCounts(), w.caught.TextCounts()} {
		assert.NotEmpty(t, counts)
		for key, n := range counts {
			assert.Equal(t, 1, n, key)
		}
	}
	t.Logf("%d notices, %d mails", len(told), len(w.caught.Mails()))
}

// meddler is a store in which another process writes a round between the
// moment a round has read what was told and the moment it writes.
type meddler struct {
	store.Store
	meddle func()
	read   bool
}

// meddling is the store that m stands in the way of.
func (m *meddler) meddling() store.Store {
	s := m.Store
	s.VerdictReader, s.Database = m, m
	return s
}

func (m *meddler) VerdictsOfCell(ctx context.Context, cell int64) (map[int64]store.Verdict, error) {
	m.read = true
	return m.Store.VerdictsOfCell(ctx, cell)
}

func (m *meddler) Write(ctx context.Context, fn func(store.Writer) error) error {
	if m.read && m.meddle != nil {
		meddle := m.meddle
		m.meddle = nil
		meddle()
	}
	return m.Store.Write(ctx, fn)
}

func TestARoundThatWasOvertakenBeginsAgain(t *testing.T) {
	w := newWorld(t)
	w.ann()
	b := w.bed("A1", "chard")
	w.round()
	other := w.another()
	m := &meddler{Store: w.service.Book, meddle: func() {
		w.snap() // the other sees a newer forecast
		w.clock.Add(time.Hour)
		o, err := other.Runner.Round(t.Context())
		require.NoError(t, err)
		require.Equal(t, []string{notice.HarvestBefore}, kinds(o.Notices))
	}}
	w.runner.Store = m.meddling()
	w.clock.Add(20 * time.Minute)
	assert.Empty(t, w.round().Notices, "the other has told it")
	stored, err := w.service.Book.Verdict(t.Context(), b.ID)
	require.NoError(t, err)
	assert.Equal(t, farm.Told, stored.Event.Phase, "and that it was told is not written over")
	assert.Len(t, w.caught.Mails(), 1)
}
