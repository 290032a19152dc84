package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"winterstand/internal/message/notice"
	"winterstand/internal/service/deliver"
	"winterstand/internal/service/inbound"
	"winterstand/internal/service/letters"
	"winterstand/internal/service/round"
	"winterstand/internal/service/score"
	"winterstand/internal/store"
)

// works is what the queue's jobs do.
type works struct {
	store     store.Store
	runner    *round.Runner
	scorer    score.Scorer
	letters   letters.Writer
	carrier   *deliver.Carrier
	inbound   *inbound.Box // may be nil
	now       func() time.Time
	decisions *prometheus.CounterVec // by reason
}

// newDecisions counts, for every bed of every round, why something was told of it
// or was not.
func newDecisions() *prometheus.CounterVec {
	c := prometheus.NewCounterVec(prometheus.CounterOpts{Name: "winterstand_decisions_total",
		Help: "Decisions whether something is told of a bed, by reason."}, []string{"reason"})
	for _, why := range notice.Reasons() {
		c.WithLabelValues(string(why))
	}
	return c
}

// sweepMost is how many overdue messages one sweep queues.
const sweepMost = 500

// keepDocuments is how long forecasts that no notice rests on are kept.
const keepDocuments = 30 * 24 * time.Hour

func (w works) Message(ctx context.Context, id int64) error { return w.carrier.Message(ctx, id) }

func (w works) Cell(ctx context.Context, id int64) error {
	o, err := w.runner.Cell(ctx, id)
	for why, n := range o.Reasons {
		w.decisions.WithLabelValues(string(why)).Add(float64(n))
	}
	return gone(err)
}

// Field places a field and has its cell judged.
func (w works) Field(ctx context.Context, id int64) error {
	cellID, err := w.runner.Settle(ctx, id)
	if err != nil || cellID == 0 {
		return gone(err)
	}
	return w.enqueue(ctx, []store.Job{{CellID: cellID}})
}

// gone: what a job is about may have been removed meanwhile.
func gone(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	return err
}

// Poll queues a round of every cell in use and of every field without one.
func (w works) Poll(ctx context.Context) error {
	cells, err := w.store.CellsInUse(ctx)
	if err != nil {
		return err
	}
	fields, err := w.store.UnplacedFields(ctx)
	if err != nil {
		return err
	}
	var jobs []store.Job
	for _, c := range cells {
		jobs = append(jobs, store.Job{CellID: c.ID})
	}
	for _, f := range fields {
		jobs = append(jobs, store.Job{FieldID: f.ID})
	}
	return w.enqueue(ctx, jobs)
}

// sweepAhead is how far a sweep looks, so that a lease that runs out between
// two sweeps is followed at once.
const sweepAhead = time.Minute

// Sweep queues messages that should have left or soon should: their process was
// killed, and their lease runs out.
func (w works) Sweep(ctx context.Context) error {
	ids, err := w.store.Overdue(ctx, w.now().Add(sweepAhead), sweepMost)
	if err != nil {
		return err
	}
	var jobs []store.Job
	for _, id := range ids {
		m, err := w.store.Message(ctx, id)
		if err != nil {
			return err
		}
		jobs = append(jobs, store.Job{MessageID: id, At: m.NotBefore})
	}
	return w.enqueue(ctx, jobs)
}

func (w works) enqueue(ctx context.Context, jobs []store.Job) error {
	if len(jobs) == 0 {
		return nil
	}
	return w.store.Write(ctx, func(tx store.Writer) error { return tx.Enqueue(ctx, jobs...) })
}

// Daily scores what the nights brought, tells of lots and rooms, and forgets
// what is past its use. One
// part failing does not keep the others from running.
func (w works) Daily(ctx context.Context) error {
	return errors.Join(
		w.scorer.Score(ctx),
		w.letters.Stored(ctx),
		w.store.Write(ctx, func(tx store.Writer) error { return tx.Prune(ctx, w.now(), keepDocuments) }),
	)
}

// Weekly sends a sign of life.
func (w works) Weekly(ctx context.Context) error {
	if err := w.letters.StillWatching(ctx); err != nil {
		return fmt.Errorf("sign of life: %w", err)
	}
	return nil
}
