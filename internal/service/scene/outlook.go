package scene

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
// be seen; the verdict, which is unknown, says why.
type Blind struct{ farm.Verdict }

// Error is the reason for programmers.
func (b *Blind) Error() string {
	return fmt.Sprintf("cannot see: %s %v", b.Blind, b.Missing)
}

// Outlook is the coming course of one bed with its verdict, from what is stored.
type Outlook struct {
	Verdict             farm.Verdict
	Hours               []verdict.Hour
	Zone                *time.Location
	Latitude, Longitude float64
}

// Outlook computes the course of a bed. store.ErrNotFound: no such bed on the
// farm; *Blind: nothing can be seen.
func (w *Reader) Outlook(ctx context.Context, farmID, bedID int64) (Outlook, error) {
	return w.OutlookOn(ctx, farmID, bedID, 0)
}

// OutlookOn is Outlook on a given forecast (0: the one in use), for the picture
// of a notice.
func (w *Reader) OutlookOn(ctx context.Context, farmID, bedID, forecastID int64) (Outlook, error) {
	s, a, p, err := w.one(ctx, farmID, bedID, forecastID)
	if err != nil {
		return Outlook{}, err
	}
	q := a.question(s, p, LimitsOf(p.Owner))
	return Outlook{Verdict: a.Verdict(s, p, LimitsOf(p.Owner)), Hours: verdict.Outlook(q), Zone: p.Zone,
		Latitude: p.Class.Site.Latitude, Longitude: p.Class.Site.Longitude}, nil
}

// WhatIf judges a bed as it would be under another cover or mulch, on the same
// members. An empty cover or missing mulch is as it is.
func (w *Reader) WhatIf(ctx context.Context, farmID, bedID int64, cover string, mulchCm unit.Maybe[float64]) (farm.Verdict, error) {
	s, a, p, err := w.one(ctx, farmID, bedID, 0)
	if err != nil {
		return farm.Verdict{}, err
	}
	got, err := w.whatIf(s, a, p, cover, mulchCm.Else(-1), "")
	return got.verdict, err
}

// one assesses a single bed.
func (w *Reader) one(ctx context.Context, farmID, bedID, forecastID int64) (*Scene, *Trial, *Plot, error) {
	b, err := w.Store.Bed(ctx, farmID, bedID)
	if err != nil {
		return nil, nil, nil, err
	}
	f, err := w.Store.Field(ctx, farmID, b.FieldID)
	if err != nil {
		return nil, nil, nil, err
	}
	if f.CellID == 0 {
		return nil, nil, nil, &Blind{farm.Verdict{State: farm.Unknown, Blind: farm.NoForecast}}
	}
	s, err := w.stored(ctx, f, forecastID)
	if err != nil {
		return nil, nil, nil, err
	}
	p, err := w.plotOf(ctx, s, f, b)
	if err != nil {
		return nil, nil, nil, err
	}
	if why := s.Unseen(p.Owner); why != "" && (forecastID == 0 || why == farm.Holes) {
		return nil, nil, nil, &Blind{s.CannotSee(p, why, s.Missing)}
	}
	saved, err := w.Store.Checkpoints(ctx, s.Cell.ID)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("checkpoints of %s: %w", s.Cell.Key, err)
	}
	a, _, err := w.Try(s, Groups([]Plot{*p})[0], saved)
	return s, a, p, err
}

// stored is the scene of a field's cell from what is kept, without asking anybody.
func (w *Reader) stored(ctx context.Context, f store.Field, forecastID int64) (*Scene, error) {
	cell, err := w.Store.Cell(ctx, f.CellID)
	if err != nil {
		return nil, fmt.Errorf("cell %d: %w", f.CellID, err)
	}
	if forecastID != 0 {
		doc, err := w.Store.Forecast(ctx, forecastID)
		if err != nil {
			return nil, fmt.Errorf("forecast %d: %w", forecastID, err)
		}
		return w.Scene(ctx, cell, doc)
	}
	doc, err := w.Best(ctx, cell)
	if err != nil {
		return nil, err
	}
	return w.Scene(ctx, cell, doc)
}

// plotOf is one bed with all that its judgement needs.
func (w *Reader) plotOf(ctx context.Context, s *Scene, f store.Field, b farm.Bed) (*Plot, error) {
	k := w.knowledge(s)
	if err := k.load(ctx, []store.Field{f}); err != nil {
		return nil, err
	}
	p := k.Plot(b)
	if p.Broken != "" {
		return nil, &Blind{s.CannotSee(&p, farm.Holes, []farm.Gap{p.Gap()})}
	}
	return &p, nil
}
