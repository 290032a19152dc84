package app_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// A day of sowing that lies ahead, in a book of before it was refused, does not
// switch a bed off: it stands, is judged as standing, and its page says so.
func TestABedThatIsSownInTheFutureIsStillJudged(t *testing.T) {
	w := newWorld(t)
	w.ann()
	b := w.bed("A1", "chard")
	b.SownOn = unit.Some(farm.Day("2026-07-15"))
	require.NoError(t, w.service.Book.Write(t.Context(), func(tx store.Writer) error { return tx.UpdateBed(t.Context(), b) }))
	w.snap()
	assert.Len(t, ofKind(w.round().Notices, notice.HarvestBefore), 1)
	assert.Contains(t, w.page("/beds/1"), "lies ahead and does not count")
}
