package round

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Blind is the error of a question that cannot be answered because nothing can
// be seen.
type Blind struct{ Reason string }

// Error is the reason.
func (b *Blind) Error() string { return b.Reason }

// Outlook is the coming course of one bed with its verdict, from what is stored.
type Outlook struct {
	Verdict             farm.Verdict
	Hours               []verdict.Hour
	Zone                *time.Location
	Latitude, Longitude float64
}

// Outlook computes the course of a bed. store.ErrNotFound: no such bed on the
// farm; *Blind: nothing can be seen.
func (w *Watcher) Outlook(ctx context.Context, farmID, bedID int64) (Outlook, error) {
	return w.OutlookOn(ctx, farmID, bedID, 0)
}

// OutlookOn is Outlook on a given forecast (0: the one in use), for the picture
// of a notice.
func (w *Watcher) OutlookOn(ctx context.Context, farmID, bedID, forecastID int64) (Outlook, error) {
	s, a, p, err := w.one(ctx, farmID, bedID, forecastID)
	if err != nil {
		return Outlook{}, err
	}
	q := a.question(s, p, limitsOf(p.owner))
	return Outlook{Verdict: a.verdictOf(s, p, limitsOf(p.owner)), Hours: verdict.Outlook(q), Zone: p.zone,
		Latitude: p.field.Latitude, Longitude: p.field.Longitude}, nil
}

// WhatIf judges a bed as it would be under another cover or mulch, on the same
// members. An empty cover or missing mulch is as it is.
func (w *Watcher) WhatIf(ctx context.Context, farmID, bedID int64, cover string, mulchCm unit.Maybe[float64]) (farm.Verdict, error) {
	s, a, p, err := w.one(ctx, farmID, bedID, 0)
	if err != nil {
		return farm.Verdict{}, err
	}
	got, err := w.whatIf(s, a, p, cover, mulchCm.Else(-1), "")
	return got.verdict, err
}

// one assesses a single bed.
func (w *Watcher) one(ctx context.Context, farmID, bedID, forecastID int64) (*scene, *assessed, *plot, error) {
	b, err := w.Store.Bed(ctx, farmID, bedID)
	if err != nil {
		return nil, nil, nil, err
	}
	f, err := w.Store.Field(ctx, farmID, b.FieldID)
	if err != nil {
		return nil, nil, nil, err
	}
	if f.CellID == 0 {
		return nil, nil, nil, &Blind{"the field has no forecast yet"}
	}
	s, err := w.stored(ctx, f, forecastID)
	if err != nil {
		return nil, nil, nil, err
	}
	if len(s.missing) > 0 {
		return nil, nil, nil, &Blind{"cannot see: " + s.blindBecause()}
	}
	p, err := w.plotOf(ctx, s, f, b)
	if err != nil {
		return nil, nil, nil, err
	}
	saved, err := w.Store.Checkpoints(ctx, s.cell.ID)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("checkpoints of %s: %w", s.cell.Key, err)
	}
	a, _, err := w.assess(s, grouped([]plot{*p})[0], saved)
	return s, a, p, err
}

// stored is the scene of a field's cell from what is kept, without asking anybody.
func (w *Watcher) stored(ctx context.Context, f store.Field, forecastID int64) (*scene, error) {
	cell, err := w.Store.Cell(ctx, f.CellID)
	if err != nil {
		return nil, fmt.Errorf("cell %d: %w", f.CellID, err)
	}
	if forecastID != 0 {
		doc, err := w.Store.Forecast(ctx, forecastID)
		if err != nil {
			return nil, fmt.Errorf("forecast %d: %w", forecastID, err)
		}
		return w.scene(ctx, cell, doc)
	}
	doc, err := w.best(ctx, cell)
	if err != nil {
		return nil, err
	}
	return w.scene(ctx, cell, doc)
}

// plotOf is one bed with all that its judgement needs.
func (w *Watcher) plotOf(ctx context.Context, s *scene, f store.Field, b farm.Bed) (*plot, error) {
	k := w.knowledge(s)
	if err := k.load(ctx, []store.Field{f}); err != nil {
		return nil, err
	}
	p := k.plot(b)
	if p.broken != "" {
		return nil, &Blind{p.broken}
	}
	return &p, nil
}
