// Package round is one round: fetch the forecast of a cell, step the state of
// its beds, judge them, record, and queue what is due. It decides the order; the
// science is below it and the outside world behind small interfaces.
package round

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/outside/forecast"
	"winterstand/internal/store"
)

// Catalogue finds crops by name.
type Catalogue interface {
	Find(name string) (crop.Crop, error)
}

// Watcher does rounds.
type Watcher struct {
	Store     store.Store
	Sources   []forecast.Source // in order: the first that covers a place rules it
	Catalogue Catalogue
	Log       *slog.Logger
	Now       func() time.Time
	Members   int // courses per forecast

	turns turns
}

// Outcome is what a round did, for people and metrics.
type Outcome struct {
	Cells, Fields, Beds int
	Notices             []store.Notice // written by this round
	Blind               int            // fields that cannot be seen
	Trouble             []string       // what sources answered
}

func (o *Outcome) add(p Outcome) {
	o.Cells += p.Cells
	o.Fields += p.Fields
	o.Beds += p.Beds
	o.Blind += p.Blind
	o.Notices = append(o.Notices, p.Notices...)
	o.Trouble = append(o.Trouble, p.Trouble...)
}

// Round places fields that have no cell yet and does every cell in use. An
// error of one cell does not keep the others waiting; all are joined.
func (w *Watcher) Round(ctx context.Context) (Outcome, error) {
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

// zoneOf is the zone that a field's days and clocks are in.
func zoneOf(f farm.Field, owner farm.Farm, cell store.Cell) *time.Location {
	for _, name := range []string{f.TimeZone, cell.TimeZone, owner.TimeZone} {
		if name == "" {
			continue
		}
		if z, err := time.LoadLocation(name); err == nil {
			return z
		}
	}
	return time.UTC
}
