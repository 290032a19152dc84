// Package score says how verdicts turned out: it writes what a night brought into
// the judgements made of it, and learns a cell's forecast error from them.
package score

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// scoredBack is how many nights back verdicts are scored: time enough for late
// observations, and for a service that stood still.
const scoredBack = 10

// Scorer scores.
type Scorer struct{ *scene.Reader }

// marker scores what is known of a cell.
type marker struct{ *scene.Knowledge }

// Score writes what the past nights brought into the judgements that were made
// of them: what people found, else the model on the hours that happened. A bed
// that was harvested in time is played on as if it still stood.
func (w Scorer) Score(ctx context.Context) error {
	cells, err := w.Store.CellsInUse(ctx)
	if err != nil {
		return fmt.Errorf("score: %w", err)
	}
	var errs []error
	for _, c := range cells {
		if err := w.scoreCell(ctx, c); err != nil {
			errs = append(errs, fmt.Errorf("score %s: %w", c.Key, err))
		}
	}
	return errors.Join(errs...)
}

func (w Scorer) scoreCell(ctx context.Context, cell store.Cell) error {
	doc, err := w.Best(ctx, cell)
	if err != nil {
		return err
	}
	s, err := w.Scene(ctx, cell, doc)
	if err != nil || len(s.Past) == 0 {
		return err
	}
	known, err := w.Known(ctx, s)
	if err != nil {
		return err
	}
	k := marker{known}
	for farmID := range k.Farms {
		if err := k.scoreFarm(ctx, farmID); err != nil {
			return err
		}
	}
	return k.verify(ctx)
}

// scored is one night of one bed as it turned out.
type scored struct {
	bed          int64
	night        farm.Day
	lost, airMin float64
}

func (k marker) scoreFarm(ctx context.Context, farmID int64) error {
	today := farm.DayOf(k.Scene.Now, time.UTC)
	open, err := k.Reader.Store.Judgements(ctx, farmID, today.Add(-scoredBack), today)
	if err != nil {
		return err
	}
	nights := map[int64]map[farm.Day]bool{}
	for _, j := range open {
		if j.Lost.Known() {
			continue
		}
		if nights[j.BedID] == nil {
			nights[j.BedID] = map[farm.Day]bool{}
		}
		nights[j.BedID][j.Night] = true
	}
	var out []scored
	for _, bedID := range slices.Sorted(maps.Keys(nights)) {
		got, err := k.scoreBed(ctx, farmID, bedID, nights[bedID])
		if err != nil {
			return err
		}
		out = append(out, got...)
	}
	if len(out) == 0 {
		return nil
	}
	return k.Reader.Store.Write(ctx, func(tx store.Writer) error {
		for _, x := range out {
			if err := tx.ScoreJudgement(ctx, x.bed, x.night, x.lost, x.airMin); err != nil {
				return err
			}
		}
		return nil
	})
}

// scoreBed plays a bed from the start of the history and reads its loss at the
// noon after each night.
func (k marker) scoreBed(ctx context.Context, farmID, bedID int64, nights map[farm.Day]bool) ([]scored, error) {
	b, err := k.Reader.Store.Bed(ctx, farmID, bedID)
	if err != nil {
		return nil, err
	}
	if k.Fields[b.FieldID].Field.ID == 0 {
		return nil, nil
	}
	p := k.Plot(b)
	if p.Broken != "" {
		return nil, nil
	}
	play := played{k: k, plot: &p, book: bed.NewBook(&p.Class, []bed.Plant{p.Plant}, k.Scene.Start), at: k.Scene.Start}
	var out []scored
	for _, night := range slices.Sorted(maps.Keys(nights)) {
		before, err := play.lossAt(night.Noon(p.Zone))
		if err != nil {
			return nil, err
		}
		after, err := play.lossAt(night.Add(1).Noon(p.Zone))
		if err != nil {
			return nil, err
		}
		low, known := k.lowAt(&p, night)
		if !known || before > bed.LossShare || play.at.Before(night.Add(1).Noon(p.Zone).UTC().Truncate(time.Hour)) {
			continue // not over, not seen, or lost before: nothing was left to be right about
		}
		out = append(out, scored{bed: bedID, night: night, lost: k.seen(b, night, after), airMin: float64(low)})
	}
	return out, nil
}

// played is a bed played on, hour by hour.
type played struct {
	k    marker
	plot *scene.Plot
	book bed.Book
	at   time.Time
}

// lossAt is the loss at an instant that has passed; later ones give the loss now.
func (p *played) lossAt(t time.Time) (float64, error) {
	t = t.UTC().Truncate(time.Hour)
	if now := p.k.Scene.Now.Truncate(time.Hour); t.After(now) {
		t = now
	}
	if t.After(p.at) {
		if err := p.book.Advance(&p.plot.Class, []bed.Plant{p.plot.Plant}, p.k.Scene.Between(p.at, t)); err != nil {
			return 0, err
		}
		p.at = t
	}
	return p.book.Plants[p.plot.Plant.Key()].Loss(), nil
}

// seen is what the grower found after a night, else what the model says.
func (k marker) seen(bed farm.Bed, night farm.Day, model float64) float64 {
	for _, f := range k.Findings[bed.FarmID] {
		if f.BedID == bed.ID && f.Night == night {
			return f.LostFraction
		}
	}
	return model
}

// lowAt is the lowest air at the bed in a night that has passed.
func (k marker) lowAt(p *scene.Plot, night farm.Day) (unit.Celsius, bool) {
	from, to := night.Noon(p.Zone).UTC().Truncate(time.Hour), night.Add(1).Noon(p.Zone).UTC().Truncate(time.Hour)
	low, found := unit.Celsius(0), false
	for _, h := range k.Scene.Between(from, to) {
		if air, ok := p.Class.At(h).Air.Get(); ok && (!found || air < low) {
			low, found = air, true
		}
	}
	return low, found
}
