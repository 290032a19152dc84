package app

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/outside/settings"
	"winterstand/internal/service/schedule"
	"winterstand/internal/store"
	"winterstand/internal/store/postgres"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
	"winterstand/internal/trial/patience"
)

// databases runs a test on an embedded database and on a private server.
func databases(t *testing.T, test func(t *testing.T, database string)) {
	t.Parallel() // the queue waits more than it works
	t.Run("sqlite", func(t *testing.T) { t.Parallel(); test(t, "sqlite:"+filepath.Join(t.TempDir(), "book.db")) })
	t.Run("postgres", func(t *testing.T) { t.Parallel(); test(t, storetest.Database(t)) })
}

// counter is works that only count what they are asked to do.
type counter struct {
	mu   sync.Mutex
	done map[string]int
	hold chan struct{} // not nil: cells wait for it
}

func newCounter() *counter { return &counter{done: map[string]int{}} }

func (c *counter) add(what string, id int64) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.done[fmt.Sprintf("%s %d", what, id)]++
	return nil
}

func (c *counter) of(what string, id int64) int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.done[fmt.Sprintf("%s %d", what, id)]
}

func (c *counter) Message(_ context.Context, id int64) error { return c.add("message", id) }
func (c *counter) Field(_ context.Context, id int64) error   { return c.add("field", id) }
func (c *counter) Poll(context.Context) error                { return c.add("poll", 0) }
func (c *counter) Sweep(context.Context) error               { return c.add("sweep", 0) }
func (c *counter) Daily(context.Context) error               { return c.add("daily", 0) }
func (c *counter) Weekly(context.Context) error              { return c.add("weekly", 0) }

func (c *counter) Cell(ctx context.Context, id int64) error {
	if c.hold != nil {
		select {
		case <-c.hold:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return c.add("cell", id)
}

// bench is a book with a queue that is not started yet.
type bench struct {
	*book
	works *counter
	queue queue
}

func newBench(t *testing.T, database string, crons schedule.Crons) *bench {
	t.Helper()
	s := settings.Default()
	s.Database = database
	opened, err := openBook(t.Context(), s, true)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	b := &bench{book: opened, works: newCounter()}
	b.queue, err = opened.newQueue(schedule.Options{Works: b.works, Crons: crons, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		Now: func() time.Time { return time.Now().UTC() }})
	require.NoError(t, err)
	return b
}

// seldom are schedules that do not come round during a test; polls and sweeps
// still run at the start.
var seldom = schedule.Crons{Poll: "0 0 29 2 *", Sweep: "0 0 29 2 *", Daily: "0 0 29 2 *", Weekly: "0 0 29 2 *"}

func (b *bench) start(t *testing.T) {
	t.Helper()
	require.NoError(t, b.queue.Start(context.WithoutCancel(t.Context())))
	t.Cleanup(func() {
		require.NoError(t, b.queue.Stop(patience.Context(t, 1, "stopping the queue")))
	})
}

func (b *bench) eventually(t *testing.T, what string, id int64, n int) {
	t.Helper()
	patience.Until(t, func() bool { return b.works.of(what, id) >= n }, "%s %d, %d times", what, id, n)
}

func TestJobsStandOrFallWithTheirTransaction(t *testing.T) {
	databases(t, func(t *testing.T, database string) {
		b := newBench(t, database, seldom)
		b.start(t)
		ctx := t.Context()
		givenUp := errors.New("given up")
		require.ErrorIs(t, b.Write(ctx, func(tx store.Writer) error {
			require.NoError(t, tx.Enqueue(ctx, store.Job{MessageID: 7}, store.Job{FieldID: 7}, store.Job{CellID: 7}))
			return givenUp
		}), givenUp)
		require.NoError(t, b.Write(ctx, func(tx store.Writer) error {
			return tx.Enqueue(ctx, store.Job{MessageID: 8}, store.Job{FieldID: 8}, store.Job{CellID: 8})
		}))
		b.eventually(t, "message", 8, 1)
		b.eventually(t, "field", 8, 1)
		b.eventually(t, "cell", 8, 1)
		assert.Zero(t, b.works.of("message", 7)+b.works.of("field", 7)+b.works.of("cell", 7))
		assert.Equal(t, 1, b.works.of("message", 8))
	})
}

func TestABurstOfChangesIsJudgedTwiceAtMost(t *testing.T) {
	databases(t, func(t *testing.T, database string) {
		b := newBench(t, database, seldom)
		b.works.hold = make(chan struct{})
		b.start(t)
		ctx := t.Context()
		began := time.Now()
		for range 50 {
			require.NoError(t, b.Write(ctx, func(tx store.Writer) error { return tx.Enqueue(ctx, store.Job{CellID: 3}) }))
		}
		ended := time.Now()
		close(b.works.hold)
		b.eventually(t, "cell", 3, 2)
		const span = 3 * time.Second
		spans := 1 + int(ended.Truncate(span).Sub(began.Truncate(span))/span) // that the changes fell in
		assert.LessOrEqual(t, b.works.of("cell", 3), spans+1, "once for each span and once after the last")
	})
}

func TestPollAndSweepRunAtTheStart(t *testing.T) {
	databases(t, func(t *testing.T, database string) {
		b := newBench(t, database, seldom)
		b.start(t)
		b.eventually(t, "poll", 0, 1)
		b.eventually(t, "sweep", 0, 1)
		assert.Zero(t, b.works.of("daily", 0)+b.works.of("weekly", 0))
	})
}

func TestACronThatDoesNotParseIsNamed(t *testing.T) {
	s := settings.Default()
	s.Database = "sqlite:" + filepath.Join(t.TempDir(), "book.db")
	opened, err := openBook(t.Context(), s, true)
	require.NoError(t, err)
	defer opened.Close()
	_, err = opened.newQueue(schedule.Options{Works: newCounter(), Crons: schedule.Crons{Poll: "every now and then", Sweep: "* * * * *", Daily: "61 * * * *", Weekly: "0 15 * * 0"},
		Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Now: time.Now})
	assert.ErrorContains(t, err, `schedule poll "every now and then"`)
	assert.ErrorContains(t, err, `schedule daily "61 * * * *"`)
}

// die makes a waiting message job look as if the process that had begun it was
// killed so long ago.
func (b *bench) die(t *testing.T, messageID int64, ago time.Duration) {
	t.Helper()
	at := time.Now().Add(-ago).UTC()
	args := fmt.Sprintf(`{"id": %d}`, messageID)
	switch s := b.Database.(type) {
	case *sqlite.Store:
		changed(t, s.DB(), `UPDATE river_job SET state = 'running', attempt = 1, attempted_at = ?1, attempted_by = jsonb('["killed"]') WHERE kind = 'message' AND json_extract(args, '$.id') = ?2`,
			at.Format("2006-01-02 15:04:05.999"), messageID)
	case *postgres.Store:
		tag, err := s.Pool().Exec(t.Context(), `UPDATE river_job SET state = 'running', attempt = 1, attempted_at = $1, attempted_by = '{killed}' WHERE kind = 'message' AND args = $2::jsonb`, at, args)
		require.NoError(t, err)
		require.EqualValues(t, 1, tag.RowsAffected())
	default:
		t.Fatalf("%T", s)
	}
}

func changed(t *testing.T, db *sql.DB, statement string, args ...any) {
	t.Helper()
	r, err := db.ExecContext(t.Context(), statement, args...)
	require.NoError(t, err)
	n, err := r.RowsAffected()
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
}

func TestAJobWhoseProcessDiedIsTakenOver(t *testing.T) {
	databases(t, func(t *testing.T, database string) {
		b := newBench(t, database, seldom)
		ctx := t.Context()
		require.NoError(t, b.Write(ctx, func(tx store.Writer) error {
			return tx.Enqueue(ctx, store.Job{MessageID: 11}, store.Job{MessageID: 12})
		}))
		b.die(t, 11, 3*time.Minute)
		b.die(t, 12, time.Minute)
		began := time.Now()
		b.start(t)
		b.eventually(t, "message", 11, 1)
		t.Logf("taken over %.1f s after the start", time.Since(began).Seconds())
		assert.Zero(t, b.works.of("message", 12), "one begun a minute ago may still be at work")
	})
}

func TestTwoProcessesShareOneServersWork(t *testing.T) {
	url := storetest.Database(t)
	a, b := newBench(t, url, seldom), newBench(t, url, seldom)
	a.start(t)
	b.start(t)
	ctx := t.Context()
	const n = 200
	for i := range n {
		from := a
		if i%2 == 1 {
			from = b
		}
		require.NoError(t, from.Write(ctx, func(tx store.Writer) error { return tx.Enqueue(ctx, store.Job{MessageID: int64(i + 1)}) }))
	}
	patience.Until(t, func() bool { return a.works.total("message")+b.works.total("message") >= n }, "%d messages", n)
	for i := range n {
		assert.Equal(t, 1, a.works.of("message", int64(i+1))+b.works.of("message", int64(i+1)))
	}
	t.Logf("%d and %d of %d jobs", a.works.total("message"), b.works.total("message"), n)
	assert.Positive(t, a.works.total("message"))
	assert.Positive(t, b.works.total("message"))
}

func (c *counter) total(what string) int {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := 0
	for k, v := range c.done {
		if len(k) > len(what) && k[:len(what)] == what {
			n += v
		}
	}
	return n
}
