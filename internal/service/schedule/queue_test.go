package schedule

import (
	"context"
	"database/sql"
	"errors"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivertype"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/trial/patience"
)

// works note what they are asked for, and do as a test says.
type works struct {
	asked chan string
	do    func(ctx context.Context) error
}

func (w works) note(ctx context.Context, what string) error {
	w.asked <- what
	return w.do(ctx)
}

func (w works) Message(ctx context.Context, _ int64) error { return w.note(ctx, "message") }
func (w works) Cell(ctx context.Context, _ int64) error    { return w.note(ctx, "cell") }
func (w works) Field(ctx context.Context, _ int64) error   { return w.note(ctx, "field") }
func (w works) Poll(ctx context.Context) error             { return w.note(ctx, "poll") }
func (w works) Sweep(ctx context.Context) error            { return w.note(ctx, "sweep") }
func (w works) Daily(ctx context.Context) error            { return w.note(ctx, "daily") }
func (w works) Weekly(ctx context.Context) error           { return w.note(ctx, "weekly") }

// leapDay are schedules that do not come round during a test.
var leapDay = Crons{Poll: "0 0 29 2 *", Sweep: "0 0 29 2 *", Daily: "0 0 29 2 *", Weekly: "0 0 29 2 *"}

// bench is a queue on a real book; its clock is the machine's.
type bench struct {
	*testing.T
	*Queue[*sql.Tx]
	book  *sqlite.Store
	works works
	taken chan string // jobs as they are taken in hand, and "done" after each
}

func newBench(t *testing.T, do func(ctx context.Context) error) *bench {
	t.Helper()
	book, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, book.Close()) })
	b := &bench{T: t, book: book, works: works{make(chan string, 100), do}, taken: make(chan string, 100)}
	b.Queue, err = New(riversqlite.New(book.DB()), Options{Works: b.works, Crons: leapDay, Log: slog.New(slog.DiscardHandler), Now: time.Now, Workers: 4,
		PollEvery: 20 * time.Millisecond, Taken: func(job string) func() {
			b.taken <- job
			return func() { b.taken <- "done" }
		}})
	require.NoError(t, err)
	book.Attach(b.Enqueue)
	return b
}

func (b *bench) start() {
	b.Helper()
	require.NoError(b, b.Start(context.WithoutCancel(b.Context())))
	b.Cleanup(func() { require.NoError(b, b.BreakOff(patience.Context(b, 1, "the end of the queue"))) })
}

func (b *bench) enqueue(jobs ...store.Job) {
	b.Helper()
	require.NoError(b, b.book.Write(b.Context(), func(tx store.Writer) error { return tx.Enqueue(b.Context(), jobs...) }))
}

// job is a row of the queue.
type job struct {
	kind, state, errors string
	attempt, most       int
}

func (b *bench) jobs(kind string) []job {
	b.Helper()
	rows, err := b.book.DB().QueryContext(b.Context(), `SELECT kind, state, coalesce(json(errors), ''), attempt, max_attempts FROM river_job WHERE kind = ?1 ORDER BY id`, kind)
	require.NoError(b, err)
	defer rows.Close()
	var out []job
	for rows.Next() {
		var j job
		require.NoError(b, rows.Scan(&j.kind, &j.state, &j.errors, &j.attempt, &j.most))
		out = append(out, j)
	}
	require.NoError(b, rows.Err())
	return out
}

func well(context.Context) error { return nil }

func TestWhatIsDoneByTheClockBeginsAtTheStart(t *testing.T) {
	b := newBench(t, well)
	b.start()
	seen := map[string]bool{}
	for len(seen) < 2 {
		seen[patience.For(t, b.works.asked, "the first poll and sweep, which make up for missed ticks")] = true
	}
	assert.Equal(t, map[string]bool{"poll": true, "sweep": true}, seen)
}

// Ticks fall where cron says, in UTC, whatever the machine's zone.
func TestTicksAreThoseOfTheCronsInUTC(t *testing.T) {
	at := time.Date(2026, 11, 14, 18, 7, 30, 0, time.FixedZone("UTC-6", -6*3600)) // in UTC a Sunday, 00:07:30
	for spec, want := range map[string]string{"7 * * * *": "2026-11-15T01:07:00Z", "* * * * *": "2026-11-15T00:08:00Z",
		"30 16 * * *": "2026-11-15T16:30:00Z", "0 15 * * 0": "2026-11-15T15:00:00Z"} {
		s, err := inUTC(spec)
		require.NoError(t, err)
		assert.Equal(t, want, s.Next(at).UTC().Format(time.RFC3339), spec)
	}
}

func TestCronsThatDoNotParseAreNamed(t *testing.T) {
	_, err := Crons{Poll: "often", Sweep: "* * * * *", Daily: "61 * * * *", Weekly: "0 15 * * 0"}.periodic()
	assert.ErrorContains(t, err, `schedule poll "often"`)
	assert.ErrorContains(t, err, `schedule daily "61 * * * *"`)
	assert.NotContains(t, err.Error(), "sweep")
}

func TestAFailedJobIsTriedAgainUntilItsTriesAreUsed(t *testing.T) {
	b := newBench(t, func(context.Context) error { return errors.New("no room on the disk") })
	b.enqueue(store.Job{MessageID: 7}, store.Job{CellID: 7})
	b.start()
	patience.Until(t, func() bool { j := b.jobs("message"); return len(j) == 1 && j[0].errors != "" }, "a failed try")
	j := b.jobs("message")[0]
	assert.Contains(t, []string{"retryable", "available", "running"}, j.state, "it is tried again")
	assert.Contains(t, j.errors, "message: no room on the disk")
	assert.Equal(t, 5, j.most)
	assert.Equal(t, 3, b.jobs("cell")[0].most)
}

func TestOneUnfinishedJobForACellIsEnough(t *testing.T) {
	b := newBench(t, well)
	began := time.Now().Truncate(settle)
	for range 20 {
		b.enqueue(store.Job{CellID: 3}, store.Job{FieldID: 3})
	}
	spans := 2 + int(time.Now().Truncate(settle).Sub(began)/settle) // that changes fell in, and one after
	assert.LessOrEqual(t, len(b.jobs("cell")), spans)
	assert.LessOrEqual(t, len(b.jobs("field")), spans)
	assert.GreaterOrEqual(t, len(b.jobs("cell")), 2, "one at once and one for what changes meanwhile")
}

func TestAMessageWaitsForItsTimeByTheApplicationsClock(t *testing.T) {
	q := &Queue[*sql.Tx]{now: func() time.Time { return time.Date(2025, 11, 8, 0, 0, 0, 0, time.UTC) }}
	before := time.Now()
	p := q.params(store.Job{MessageID: 1, At: q.now().Add(time.Hour)})
	after := time.Now()
	require.Len(t, p, 1)
	at := p[0].InsertOpts.ScheduledAt
	assert.False(t, at.Before(before.Add(time.Hour)) || at.After(after.Add(time.Hour)), "an hour by the machine's clock")
	for _, j := range []store.Job{{MessageID: 1}, {MessageID: 1, At: q.now().Add(-time.Hour)}} {
		assert.Zero(t, q.params(j)[0].InsertOpts.ScheduledAt, "at once")
	}
}

func TestAStopWaitsAndABreakOffDoesNot(t *testing.T) {
	b := newBench(t, func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() })
	b.enqueue(store.Job{MessageID: 7})
	require.NoError(t, b.Start(context.WithoutCancel(t.Context())))
	patience.Until(t, func() bool { return len(b.works.asked) >= 3 }, "three jobs in hand")
	over, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, b.Stop(over), context.Canceled, "they are still at work")
	require.NoError(t, b.BreakOff(patience.Context(t, 1, "the jobs, to end")))
	held := map[string]int{}
	for range len(b.taken) {
		kind, _, _ := strings.Cut(<-b.taken, " {")
		held[kind]++
	}
	assert.Equal(t, map[string]int{"job message": 1, "job poll": 1, "job sweep": 1, "done": 3}, held, "each was named and let go")
	state := b.jobs("message")[0].state
	assert.Contains(t, []string{string(rivertype.JobStateRetryable), string(rivertype.JobStateAvailable)}, state, "it is taken up again")
}
