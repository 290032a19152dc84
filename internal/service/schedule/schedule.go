// Package schedule runs the jobs: rounds by cell, messages, and what comes
// round by the clock. The queue is River on the same database as the book, so
// that a job is there if and only if what it is about was committed.
package schedule

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
	"github.com/robfig/cron/v3"

	"winterstand/internal/store"
)

// Works is what jobs do. Every method may be repeated after a crash.
type Works interface {
	Message(ctx context.Context, id int64) error
	Cell(ctx context.Context, id int64) error
	Field(ctx context.Context, id int64) error
	Poll(ctx context.Context) error   // queue a round of every cell
	Sweep(ctx context.Context) error  // queue messages that are overdue
	Daily(ctx context.Context) error  // score, prune, use-by
	Weekly(ctx context.Context) error // sign of life
}

// Crons are schedules in cron syntax, read in UTC.
type Crons struct{ Poll, Sweep, Daily, Weekly string }

// Options of a queue.
type Options struct {
	Works   Works
	Crons   Crons
	Log     *slog.Logger
	Now     func() time.Time // the application's clock; jobs wait by the machine's
	Workers int
	// PollEvery is how often the database is asked for jobs where it cannot tell.
	PollEvery time.Duration
	// Taken is told of each job as it is taken in hand, and gives what is to be
	// called when it is done; nil: nobody wants to know.
	Taken func(job string) (done func())
}

// Queue of jobs on a database with transactions of type TTx.
type Queue[TTx any] struct {
	client *river.Client[TTx]
	now    func() time.Time
}

// rescueAfter: a job whose process was killed is given to another after this.
const rescueAfter = 2 * time.Minute

// jobTimeout bounds one job; a round of a cell asks several services, each
// within its own 30 s.
const jobTimeout = 90 * time.Second

// New makes a queue that works when it is started.
func New[TTx any](driver riverdriver.Driver[TTx], o Options) (*Queue[TTx], error) {
	if o.Taken == nil {
		o.Taken = func(string) func() { return func() {} }
	}
	workers := river.NewWorkers()
	river.AddWorker(workers, work(o.Taken, func(ctx context.Context, a messageArgs) error { return o.Works.Message(ctx, a.ID) }))
	river.AddWorker(workers, work(o.Taken, func(ctx context.Context, a cellArgs) error { return o.Works.Cell(ctx, a.ID) }))
	river.AddWorker(workers, work(o.Taken, func(ctx context.Context, a fieldArgs) error { return o.Works.Field(ctx, a.ID) }))
	river.AddWorker(workers, work(o.Taken, func(ctx context.Context, _ pollArgs) error { return o.Works.Poll(ctx) }))
	river.AddWorker(workers, work(o.Taken, func(ctx context.Context, _ sweepArgs) error { return o.Works.Sweep(ctx) }))
	river.AddWorker(workers, work(o.Taken, func(ctx context.Context, _ dailyArgs) error { return o.Works.Daily(ctx) }))
	river.AddWorker(workers, work(o.Taken, func(ctx context.Context, _ weeklyArgs) error { return o.Works.Weekly(ctx) }))
	periodic, err := o.Crons.periodic()
	if err != nil {
		return nil, err
	}
	client, err := river.NewClient(driver, &river.Config{
		Logger: o.Log, Workers: workers, PeriodicJobs: periodic, JobTimeout: jobTimeout, RescueStuckJobsAfter: rescueAfter,
		FetchPollInterval: o.PollEvery, FetchCooldown: 20 * time.Millisecond,
		Queues: map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: o.Workers}},
	})
	if err != nil {
		return nil, fmt.Errorf("job queue: %w", err)
	}
	return &Queue[TTx]{client: client, now: o.Now}, nil
}

// periodic jobs. What is due lives in the database, so a tick that is missed
// while a killed leader is replaced is made up by the next.
func (c Crons) periodic() ([]*river.PeriodicJob, error) {
	var out []*river.PeriodicJob
	var errs []error
	add := func(spec string, args river.JobArgs, atStart bool) {
		s, err := inUTC(spec)
		if err != nil {
			errs = append(errs, fmt.Errorf("schedule %s %q: %w", args.Kind(), spec, err))
			return
		}
		once := &river.InsertOpts{UniqueOpts: unfinished}
		out = append(out, river.NewPeriodicJob(s, func() (river.JobArgs, *river.InsertOpts) { return args, once },
			&river.PeriodicJobOpts{RunOnStart: atStart}))
	}
	add(c.Poll, pollArgs{}, true)
	add(c.Sweep, sweepArgs{}, true)
	add(c.Daily, dailyArgs{}, false)
	add(c.Weekly, weeklyArgs{}, false)
	return out, errors.Join(errs...)
}

// inUTC reads cron syntax whose hours are those of UTC.
func inUTC(spec string) (cron.Schedule, error) { return cron.ParseStandard("CRON_TZ=UTC " + spec) }

// Start works until ctx ends or Stop.
func (q *Queue[TTx]) Start(ctx context.Context) error {
	if err := q.client.Start(ctx); err != nil {
		return fmt.Errorf("start job queue: %w", err)
	}
	return nil
}

// Stop takes no more jobs and waits for those at work, until ctx ends.
func (q *Queue[TTx]) Stop(ctx context.Context) error {
	if err := q.client.Stop(ctx); err != nil {
		return fmt.Errorf("stop job queue: %w", err)
	}
	return nil
}

// BreakOff ends the contexts of the jobs at work and waits for them, until ctx
// ends. What they are about is taken up again after the next start.
func (q *Queue[TTx]) BreakOff(ctx context.Context) error {
	if err := q.client.StopAndCancel(ctx); err != nil {
		return fmt.Errorf("break off jobs: %w", err)
	}
	return nil
}

// Enqueue adds jobs within a transaction of the book.
func (q *Queue[TTx]) Enqueue(ctx context.Context, tx TTx, jobs []store.Job) error {
	var params []river.InsertManyParams
	for _, j := range jobs {
		params = append(params, q.params(j)...)
	}
	if len(params) == 0 {
		return nil
	}
	if _, err := q.client.InsertManyTx(ctx, tx, params); err != nil {
		return fmt.Errorf("queue %d jobs: %w", len(jobs), err)
	}
	return nil
}

// settle: changes within so many seconds are judged together once more, after
// the first of them was judged at once.
const settle = 3 * time.Second

func (q *Queue[TTx]) params(j store.Job) []river.InsertManyParams {
	var at time.Time // zero: at once
	if wait := j.At.Sub(q.now()); !j.At.IsZero() && wait > 0 {
		at = time.Now().Add(wait)
	}
	if j.MessageID != 0 {
		return []river.InsertManyParams{{Args: messageArgs{ID: j.MessageID}, InsertOpts: &river.InsertOpts{ScheduledAt: at, MaxAttempts: 5}}}
	}
	span := time.Now().Truncate(settle)
	return []river.InsertManyParams{burstJob(j, span, at), burstJob(j, span.Add(settle), span.Add(settle))}
}

// burstJob is one of its kind for a span of time. The second of a pair catches
// what changed while the first was at work.
func burstJob(j store.Job, span, at time.Time) river.InsertManyParams {
	var args river.JobArgs = cellArgs{ID: j.CellID, Burst: span.UnixMilli()}
	if j.FieldID != 0 {
		args = fieldArgs{ID: j.FieldID, Burst: span.UnixMilli()}
	}
	return river.InsertManyParams{Args: args, InsertOpts: &river.InsertOpts{ScheduledAt: at, MaxAttempts: 3, UniqueOpts: unfinished}}
}

// unfinished: one job with the same arguments that is not done yet is enough.
var unfinished = river.UniqueOpts{ByArgs: true, ByState: []rivertype.JobState{
	rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable,
	rivertype.JobStateRunning, rivertype.JobStateScheduled,
}}
