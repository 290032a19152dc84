// Package round is one round: fetch the forecast of a cell, step the state of
// its beds, judge them, record, and queue what is due. It decides the order; the
// science is below it and the outside world behind small interfaces.
package round

import (
	"context"
	"errors"
	"fmt"

	"winterstand/internal/forecast"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
)

// Runner does rounds.
type Runner struct {
	*scene.Reader
	Sources []forecast.Source // in order: the first that covers a place rules it

	turns keyedMutex
}

// New is a runner that reads scenes with a reader and asks these sources.
func New(r *scene.Reader, sources ...forecast.Source) *Runner {
	r.SourceNames = nil
	for _, s := range sources {
		r.SourceNames = append(r.SourceNames, s.Name())
	}
	return &Runner{Reader: r, Sources: sources}
}

// Outcome is what a round did, for people and metrics.
type Outcome struct {
	Cells, Fields, Beds int
	Notices             []store.Notice        // written by this round
	Reasons             map[notice.Reason]int // why something was told of a bed, or was not
	Blind               int                   // fields that cannot be seen
	Trouble             []string              // the errors of sources
}

func (o *Outcome) add(p Outcome) {
	o.Cells += p.Cells
	o.Fields += p.Fields
	o.Beds += p.Beds
	o.Blind += p.Blind
	o.Notices = append(o.Notices, p.Notices...)
	o.Trouble = append(o.Trouble, p.Trouble...)
	for why, n := range p.Reasons {
		if o.Reasons == nil {
			o.Reasons = map[notice.Reason]int{}
		}
		o.Reasons[why] += n
	}
}

// Round places fields that have no cell yet and does every cell in use. An
// error of one cell does not keep the others waiting; all are joined.
func (w *Runner) Round(ctx context.Context) (Outcome, error) {
	var total Outcome
	var errs []error
	fields, err := w.Store.UnplacedFields(ctx)
	if err != nil {
		return total, fmt.Errorf("round: %w", err)
	}
	for _, f := range fields {
		if _, err := w.Place(ctx, f); err != nil {
			errs = append(errs, err)
		}
	}
	cells, err := w.Store.CellsInUse(ctx)
	if err != nil {
		return total, fmt.Errorf("round: %w", err)
	}
	for _, c := range cells {
		o, err := w.Cell(ctx, c.ID)
		total.add(o)
		if err != nil {
			errs = append(errs, err)
		}
		if ctx.Err() != nil {
			break
		}
	}
	return total, errors.Join(errs...)
}
