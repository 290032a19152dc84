package round

import (
	"context"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/weather"
)

const (
	backfillDays = 60               // asked of a source once for a new cell
	observeEvery = 30 * time.Minute // between requests for observations
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
func (w *Runner) observe(ctx context.Context, cell store.Cell) error {
	owner, now := fmt.Sprintf("cell:%d", cell.ID), w.Now()
	var memo pastMemo
	if err := store.Recall(ctx, w.Store.Reader, owner, "past", &memo); err != nil {
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
		return store.Remember(ctx, tx, owner, "past", memo, now)
	})
}

// putHours writes history and forgets the states that it changes.
func (w *Runner) putHours(ctx context.Context, tx store.Writer, cellID int64, origin weather.Origin, hours []weather.Hour) error {
	if err := tx.PutHours(ctx, cellID, origin, hours); err != nil {
		return err
	}
	if first := hours[0].At; w.Now().Sub(first) > scene.SettledAfter {
		return tx.DropCheckpoints(ctx, cellID, first)
	}
	return nil
}

func (w *Runner) pastOf(ctx context.Context, cell *store.Cell, from, to time.Time) ([]weather.Hour, weather.Origin, error) {
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
func (w *Runner) ImportHours(ctx context.Context, cellID int64, hours []weather.Hour) error {
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
