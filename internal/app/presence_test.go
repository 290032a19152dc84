package app_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
)

// dying leaves every message as a process does that is killed while it sends.
func (w *world) dying() {
	w.Helper()
	_, err := w.runner.Round(w.Context())
	require.NoError(w, err)
	ms, err := w.service.Book.Messages(w.Context(), w.farmID, store.Page{})
	require.NoError(w, err)
	require.NotEmpty(w, ms)
	require.NoError(w, w.service.Book.Write(w.Context(), func(tx store.Writer) error {
		for _, m := range ms {
			m.Attempts, m.NotBefore = 1, w.clock.Now().Add(time.Minute)
			if err := tx.MarkMessage(w.Context(), m); err != nil {
				return err
			}
		}
		return nil
	}))
}

func TestAProcessAloneTakesOverAtOnce(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.dying()
	w.reopen()
	require.NoError(t, w.service.Drain(t.Context()))
	assert.Len(t, w.caught.Mails(), 1)
	assert.Len(t, w.caught.Texts(), 1)
}

func TestBesideAnotherProcessTheLeaseIsWaitedFor(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.dying()
	other := w.another()
	require.NoError(t, other.Drain(t.Context()))
	assert.Empty(t, w.caught.Mails(), "the first may still be sending")
	w.clock.Add(time.Minute)
	require.NoError(t, other.Drain(t.Context()))
	assert.Len(t, w.caught.Mails(), 1)
	assert.Len(t, w.caught.Texts(), 1)
}

func TestAMessageThatWaitsAfterARefusalIsNotHurried(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.caught.FailMails(1, "later")
	w.round()
	w.reopen()
	require.NoError(t, w.service.Drain(t.Context()))
	assert.Empty(t, w.caught.Mails())
	w.clock.Add(30 * time.Second)
	require.NoError(t, w.service.Drain(t.Context()))
	assert.Len(t, w.caught.Mails(), 1)
}
