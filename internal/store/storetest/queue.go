package storetest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"sync/atomic"
	"testing"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// sending is the kind of job the suite queues: mark one message as sent.
type sending struct {
	MessageID int64 `json:"message_id"`
}

func (sending) Kind() string { return "conformance_sending" }

type sender struct {
	river.WorkerDefaults[sending]
	store store.Store
	done  chan int64
	fails atomic.Int64 // so many first attempts
}

func (s *sender) Work(ctx context.Context, job *river.Job[sending]) error {
	if s.fails.Add(-1) >= 0 {
		return errors.New("the gateway does not answer")
	}
	m, err := s.store.Message(ctx, job.Args.MessageID)
	if err != nil {
		return err
	}
	m.State, m.Attempts, m.SentAt = store.Sent, m.Attempts+1, unit.Some(at(13, 0))
	if err := s.store.Write(ctx, func(w store.Writer) error { return w.MarkMessage(ctx, m) }); err != nil {
		return err
	}
	s.done <- m.ID
	return nil
}

type atOnce struct{}

func (atOnce) NextRetry(*rivertype.JobRow) time.Time { return time.Now() }

// RunQueue checks that the job queue works on the handle of an open store:
// driver is its driver on that handle, attach the Attach of the store.
func RunQueue[Tx any](t *testing.T, s store.Store, driver riverdriver.Driver[Tx],
	attach func(func(ctx context.Context, tx Tx, jobs []store.Job) error)) {
	work := &sender{store: s, done: make(chan int64, 1000)}
	workers := river.NewWorkers()
	river.AddWorker(workers, work)
	client, err := river.NewClient(driver, &river.Config{
		Queues:            map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: 4}},
		Workers:           workers,
		RetryPolicy:       atOnce{},
		Logger:            slog.New(slog.NewTextHandler(io.Discard, nil)),
		FetchCooldown:     5 * time.Millisecond,
		FetchPollInterval: 50 * time.Millisecond,
	})
	require.NoError(t, err)
	attach(func(ctx context.Context, tx Tx, jobs []store.Job) error {
		params := make([]river.InsertManyParams, len(jobs))
		for i, j := range jobs {
			params[i] = river.InsertManyParams{Args: sending{j.MessageID}, InsertOpts: &river.InsertOpts{ScheduledAt: j.At}}
		}
		_, err := client.InsertManyTx(ctx, tx, params)
		return err
	})
	b := &book{Store: s}
	w := settle(t, b, "queue")
	scheduledWaits(t, b, w, client)
	require.NoError(t, client.Start(context.WithoutCancel(t.Context())))
	defer func() { require.NoError(t, client.Stop(context.WithoutCancel(t.Context()))) }()
	rolledBackNeverRuns(t, b, w, work)
	failedRunsAgain(t, b, w, work)
	manyAtOnce(t, b, w, work)
}

// queueMessage writes a message and the job that sends it.
func queueMessage(ctx context.Context, wr store.Writer, w world, key string, at time.Time) (int64, error) {
	id, err := wr.AddMessage(ctx, message(w, key))
	if err != nil {
		return 0, err
	}
	return id, wr.Enqueue(ctx, store.Job{MessageID: id, At: at})
}

func await(t *testing.T, work *sender) int64 {
	t.Helper()
	select {
	case id := <-work.done:
		return id
	case <-time.After(time.Minute):
		t.Fatal("no job has run for a minute")
		return 0
	}
}

func scheduledWaits[Tx any](t *testing.T, b *book, w world, client *river.Client[Tx]) {
	later := time.Date(2100, 1, 2, 3, 4, 5, 0, time.UTC)
	b.write(t, func(ctx context.Context, wr store.Writer) {
		got(queueMessage(ctx, wr, w, "next century", later))(t)
	})
	list := got(client.JobList(t.Context(), river.NewJobListParams()))(t)
	require.Len(t, list.Jobs, 1)
	require.Equal(t, rivertype.JobStateScheduled, list.Jobs[0].State)
	require.True(t, later.Equal(list.Jobs[0].ScheduledAt), "%s", list.Jobs[0].ScheduledAt)
}

func rolledBackNeverRuns(t *testing.T, b *book, w world, work *sender) {
	var gone int64
	require.ErrorIs(t, b.try(t, func(ctx context.Context, wr store.Writer) (err error) {
		gone = got(queueMessage(ctx, wr, w, "rolled back", time.Time{}))(t)
		return errGivenUp
	}), errGivenUp)
	var kept int64
	b.write(t, func(ctx context.Context, wr store.Writer) {
		kept = got(queueMessage(ctx, wr, w, "kept", time.Time{}))(t)
	})
	require.Equal(t, kept, await(t, work))
	require.Equal(t, store.Sent, got(b.Message(t.Context(), kept))(t).State)
	if gone != kept { // SQLite may give the number again
		_, err := b.Message(t.Context(), gone)
		require.ErrorIs(t, err, store.ErrNotFound)
	}
}

func failedRunsAgain(t *testing.T, b *book, w world, work *sender) {
	work.fails.Store(2)
	var id int64
	b.write(t, func(ctx context.Context, wr store.Writer) {
		id = got(queueMessage(ctx, wr, w, "tried", time.Time{}))(t)
	})
	require.Equal(t, id, await(t, work))
	require.Equal(t, 1, got(b.Message(t.Context(), id))(t).Attempts)
}

// manyAtOnce queues while workers fetch, write and complete on the same handle.
func manyAtOnce(t *testing.T, b *book, w world, work *sender) {
	const writes, each = 20, 10
	begun := time.Now()
	for i := range writes {
		b.write(t, func(ctx context.Context, wr store.Writer) {
			for j := range each {
				got(queueMessage(ctx, wr, w, fmt.Sprintf("many %d %d", i, j), time.Time{}))(t)
			}
		})
	}
	seen := map[int64]bool{}
	for range writes * each {
		seen[await(t, work)] = true
	}
	require.Len(t, seen, writes*each, "each once")
	t.Logf("%d messages queued and sent in %s", writes*each, time.Since(begun).Round(time.Millisecond))
}
