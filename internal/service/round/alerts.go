package round

import (
	"context"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Alerts are the official warnings in force at a cell, from what is kept, and
// when they were last asked for; a zero time: never.
func Alerts(ctx context.Context, r store.MemoReader, cellID int64, now time.Time) ([]notice.Alert, time.Time, error) {
	var memo alertMemo
	if err := store.Recall(ctx, r, fmt.Sprintf("cell:%d", cellID), AlertMemo, &memo); err != nil {
		return nil, time.Time{}, fmt.Errorf("official warnings of cell %d: %w", cellID, err)
	}
	return InForce(memo.Alerts, now), memo.Asked, nil
}

// alerts are the official warnings in force at a cell, asked for at most every
// ten minutes; a failure is no reason to stop.
func (w *Runner) alerts(ctx context.Context, cell store.Cell) []notice.Alert {
	var memo alertMemo
	owner := fmt.Sprintf("cell:%d", cell.ID)
	if err := store.Recall(ctx, w.Store.Reader, owner, AlertMemo, &memo); err != nil {
		w.Log.Error("official warnings", "cell", cell.Key, "error", err)
	}
	if w.Now().Sub(memo.Asked) >= alertsEvery {
		got, err := w.askAlerts(ctx, cell)
		if err != nil {
			w.Log.Warn("official warnings", "cell", cell.Key, "error", err)
		}
		if err == nil || len(got) > 0 { // those that can be read count, whatever is wrong with others
			memo = alertMemo{Asked: w.Now(), Alerts: got}
			err := w.Store.Write(ctx, func(tx store.Writer) error { return store.Remember(ctx, tx, owner, AlertMemo, memo, w.Now()) })
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

func (w *Runner) askAlerts(ctx context.Context, cell store.Cell) ([]notice.Alert, error) {
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
