package round

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/outside/forecast"
	"winterstand/internal/store"
	"winterstand/internal/weather"
)

const (
	backfillDays  = 60               // asked of a source once for a new cell
	observeEvery  = 30 * time.Minute // between requests for observations
	settledAfter  = 48 * time.Hour   // later than this an observation no longer changes
	enoughHistory = 14 * 24          // hours; with less, hardening starts from a default, and says so
)

// pastMemo remembers when a cell's past was asked for.
type pastMemo struct {
	Asked      time.Time `json:"asked"`
	Until      time.Time `json:"until"` // observations are there up to this hour
	Backfilled bool      `json:"backfilled"`
	Trouble    string    `json:"trouble,omitempty"`
}

// observe brings in what actually happened, from the source that rules the
// cell. Failing is no reason to stop: the analyses stand in.
func (w *Watcher) observe(ctx context.Context, cell store.Cell) error {
	owner, now := fmt.Sprintf("cell:%d", cell.ID), w.Now()
	var memo pastMemo
	if err := w.recall(ctx, owner, "past", &memo); err != nil {
		return err
	}
	if now.Sub(memo.Asked) < observeEvery {
		return nil
	}
	from := memo.Until.Add(-3 * time.Hour)
	if !memo.Backfilled {
		from = now.AddDate(0, 0, -backfillDays)
	}
	hours, origin, err := w.pastOf(ctx, &cell, from, now.Truncate(time.Hour))
	memo.Asked, memo.Trouble = now, ""
	if err != nil {
		memo.Trouble = err.Error()
		w.Log.Info("no past hours", "cell", cell.Key, "reason", err)
	}
	memo.Backfilled = memo.Backfilled || err == nil
	if n := len(hours); n > 0 {
		memo.Until = hours[n-1].At
	}
	return w.Store.Write(ctx, func(tx store.Writer) error {
		if len(hours) > 0 {
			if err := w.putHours(ctx, tx, cell.ID, origin, hours); err != nil {
				return err
			}
		}
		return remember(ctx, tx, owner, "past", memo, now)
	})
}

// putHours writes history and forgets the states that it changes.
func (w *Watcher) putHours(ctx context.Context, tx store.Writer, cellID int64, origin weather.Origin, hours []weather.Hour) error {
	if err := tx.PutHours(ctx, cellID, origin, hours); err != nil {
		return err
	}
	if first := hours[0].At; w.Now().Sub(first) > settledAfter {
		return tx.DropCheckpoints(ctx, cellID, first)
	}
	return nil
}

func (w *Watcher) pastOf(ctx context.Context, cell *store.Cell, from, to time.Time) ([]weather.Hour, weather.Origin, error) {
	var errs []error
	for _, src := range w.Sources {
		at, err := w.cellFor(ctx, cell, src)
		if err == nil {
			var hours []weather.Hour
			var origin weather.Origin
			if hours, origin, err = src.Past(ctx, at, from, to); err == nil && len(hours) > 0 {
				return hours, origin, nil
			}
		}
		if err != nil && !errors.Is(err, forecast.ErrNoPast) && !errors.Is(err, forecast.ErrOutside) {
			errs = append(errs, fmt.Errorf("%s: %w", src.Name(), err))
		}
	}
	if len(errs) == 0 {
		errs = append(errs, forecast.ErrNoPast)
	}
	return nil, "", errors.Join(errs...)
}

// ImportHours takes in the grower's own past weather for a field's cell.
func (w *Watcher) ImportHours(ctx context.Context, cellID int64, hours []weather.Hour) error {
	if len(hours) == 0 {
		return nil
	}
	return w.Store.Write(ctx, func(tx store.Writer) error {
		if err := w.putHours(ctx, tx, cellID, weather.Import, hours); err != nil {
			return err
		}
		return tx.Enqueue(ctx, store.Job{CellID: cellID})
	})
}

func (w *Watcher) recall(ctx context.Context, owner, kind string, into any) error {
	body, err := w.Store.Memo(ctx, owner, kind)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("memo %s %s: %w", owner, kind, err)
	}
	if err := json.Unmarshal(body, into); err != nil {
		return fmt.Errorf("memo %s %s: %w", owner, kind, err)
	}
	return nil
}

func remember(ctx context.Context, tx store.Writer, owner, kind string, v any, now time.Time) error {
	body, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("memo %s %s: %w", owner, kind, err)
	}
	return tx.SetMemo(ctx, owner, kind, body, now)
}

// seasonStart is where a season's history begins: 1 August in the north, 1
// February in the south, the last one before now.
func seasonStart(now time.Time, latitude float64) time.Time {
	month := time.August
	if latitude < 0 {
		month = time.February
	}
	start := time.Date(now.Year(), month, 1, 0, 0, 0, 0, time.UTC)
	if start.After(now) {
		start = start.AddDate(-1, 0, 0)
	}
	return start
}
