package round

import (
	"context"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/outside/forecast"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// sightMemo is what a field's people have been told about being blind.
type sightMemo struct {
	Blind    bool      `json:"blind"`
	Since    time.Time `json:"since"`
	ToldAt   time.Time `json:"told_at"`
	Revision int       `json:"revision"`
	Source   string    `json:"source,omitempty"` // that ruled last
}

// blindAgainAfter: while it lasts, people are reminded once a day.
const blindAgainAfter = 24 * time.Hour

// sights decides for each field whether its people must hear that it cannot be
// seen, or that it can be seen again. Beds of a blind field are unknown.
func (r *round) sights(ctx context.Context) error {
	done := map[int64]bool{}
	for i := range r.plots {
		p := &r.plots[i]
		if done[p.field.ID] {
			continue
		}
		done[p.field.ID] = true
		if err := r.sight(ctx, p); err != nil {
			return err
		}
	}
	for i := range r.plots {
		p := &r.plots[i]
		if why, _ := r.blindness(p.owner); why != "" && len(r.s.missing) == 0 {
			r.verdicts[p.bed.ID] = r.s.cannotSee(p, why, nil)
			delete(r.groups, p.bed.ID)
		}
	}
	return nil
}

// blindness is why a farm's fields in this cell cannot be seen, and since when.
func (r *round) blindness(owner farm.Farm) (farm.Blindness, time.Time) {
	issued := time.Time{}
	if r.s.doc.ID != 0 {
		issued = r.s.doc.Issued
	}
	switch why := owner.CannotSee(issued, r.s.now); {
	case why == farm.TooOld:
		return why, issued.Add(owner.BlindAfter)
	case why != "":
		return why, r.s.now
	case len(r.s.missing) > 0:
		return farm.Holes, r.s.now
	}
	return "", time.Time{}
}

func (r *round) sight(ctx context.Context, p *plot) error {
	owner := fmt.Sprintf("field:%d", p.field.ID)
	var memo sightMemo
	if err := r.w.recall(ctx, owner, "sight", &memo); err != nil {
		return err
	}
	why, since := r.blindness(p.owner)
	switch {
	case why != "" && (!memo.Blind || r.s.now.Sub(memo.ToldAt) >= blindAgainAfter):
		if !memo.Blind {
			memo.Since = since
		}
		memo.Blind, memo.ToldAt, memo.Revision = true, r.s.now, memo.Revision+1
		r.queueSight(p, notice.Blind, why, memo)
	case why == "" && memo.Blind:
		memo.Blind, memo.Revision = false, memo.Revision+1
		r.queueSight(p, notice.SightAgain, "", memo)
	default:
		return nil
	}
	return nil
}

func (r *round) queueSight(p *plot, kind notice.Kind, why farm.Blindness, memo sightMemo) {
	day := farm.DayOf(memo.Since, p.zone)
	facts := notice.Facts{Kind: kind, Farm: p.owner.Name, Field: p.field.Name, Zone: p.zone.String(), Night: day, Alerts: r.alerts,
		Sight: &notice.Sight{Reason: why, Since: memo.Since, Source: r.s.doc.Source, Trouble: append(r.s.missing[:len(r.s.missing):len(r.s.missing)], r.seen.trouble...)}}
	if r.s.doc.ID != 0 {
		facts.Sight.Issued = unit.Some(r.s.doc.Issued)
	}
	r.due = append(r.due, due{
		owner: p.owner, zone: p.zone, facts: facts, memo: &memoRef{owner: fmt.Sprintf("field:%d", p.field.ID), kind: "sight", value: memo},
		notice: store.Notice{FarmID: p.owner.ID, Subject: fmt.Sprintf("field:%d", p.field.ID), FieldID: p.field.ID, Kind: kind,
			Night: day, Revision: memo.Revision, IssuedAt: r.s.now, ForecastID: r.s.doc.ID},
	})
}

// tellUnplaced tells a field's people that no source could be asked about it.
func (w *Watcher) tellUnplaced(ctx context.Context, f store.Field, cause error) error {
	owner, err := w.Store.Farm(ctx, f.FarmID)
	if err != nil {
		return fmt.Errorf("farm %d: %w", f.FarmID, err)
	}
	r := &round{w: w, s: &scene{now: w.Now(), missing: []string{"no forecast"}}, verdicts: map[int64]farm.Verdict{}}
	r.seen.trouble = []string{cause.Error()}
	p := &plot{field: f, owner: owner, zone: zoneOf(f.Field, owner, store.Cell{})}
	if err := r.sight(ctx, p); err != nil {
		return err
	}
	return w.Store.Write(ctx, func(tx store.Writer) error {
		_, err := r.tell(ctx, tx)
		return err
	})
}

// alerts are the official warnings in force at a cell, asked for at most every
// ten minutes; a failure is no reason to stop.
func (w *Watcher) alerts(ctx context.Context, cell store.Cell) []notice.Alert {
	var memo alertMemo
	owner := fmt.Sprintf("cell:%d", cell.ID)
	if err := w.recall(ctx, owner, AlertMemo, &memo); err != nil {
		w.Log.Error("official warnings", "cell", cell.Key, "error", err)
	}
	if w.Now().Sub(memo.Asked) >= alertsEvery {
		got, err := w.askAlerts(ctx, cell)
		if err != nil {
			w.Log.Warn("official warnings", "cell", cell.Key, "error", err)
		}
		if err == nil || len(got) > 0 { // those that can be read count, whatever is wrong with others
			memo = alertMemo{Asked: w.Now(), Alerts: got}
			err := w.Store.Write(ctx, func(tx store.Writer) error { return remember(ctx, tx, owner, AlertMemo, memo, w.Now()) })
			if err != nil {
				w.Log.Error("official warnings", "cell", cell.Key, "error", err)
			}
		}
	}
	if w.Now().Sub(memo.Asked) > alertsKept {
		return nil
	}
	return InForce(memo.Alerts, w.Now())
}

// AlertMemo is the memo kind of a cell's official warnings, owner cell:ID.
const AlertMemo = "alerts"

const alertsEvery = 10 * time.Minute

// alertsKept is how long warnings are repeated that could not be asked for anew:
// they may have been called off meanwhile. Own default.
const alertsKept = 3 * time.Hour

type alertMemo struct {
	Asked  time.Time      `json:"asked"`
	Alerts []notice.Alert `json:"alerts"`
}

// InForce leaves out warnings that have ended.
func InForce(all []notice.Alert, now time.Time) []notice.Alert {
	var out []notice.Alert
	for _, a := range all {
		if ends, ok := a.Ends.Get(); !ok || ends.After(now) {
			out = append(out, a)
		}
	}
	return out
}

func (w *Watcher) askAlerts(ctx context.Context, cell store.Cell) ([]notice.Alert, error) {
	var out []notice.Alert
	var errs []error
	for _, src := range w.Sources {
		alerter, ok := src.(forecast.Alerter)
		if !ok || src.Name() != sourceOf(cell.Key) {
			continue
		}
		got, err := alerter.Alerts(ctx, forecast.Point{Latitude: cell.Latitude, Longitude: cell.Longitude})
		errs = append(errs, err)
		for _, a := range got {
			out = append(out, notice.Alert{Event: a.Event, Headline: a.Headline, Onset: maybeTime(a.Onset), Ends: maybeTime(a.Ends), Sender: a.Office})
		}
	}
	return out, errors.Join(errs...)
}

func maybeTime(t time.Time) unit.Maybe[time.Time] {
	if t.IsZero() {
		return unit.None[time.Time]()
	}
	return unit.Some(t)
}
