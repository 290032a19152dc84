package round

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/weather"
)

// askAgain is how long a document is taken as the newest when its service does
// not say.
const askAgain = 25 * time.Minute

// sighting is what a cell can see of the weather.
type sighting struct {
	scene.Pick
	cell    store.Cell
	trouble []notice.Trouble
	errors  []string // the same whole, for whoever runs the program
}

// look asks the sources in order until one has a fresh forecast; else the best
// of what is kept counts.
func (w *Runner) look(ctx context.Context, cell store.Cell) (sighting, error) {
	s := sighting{cell: cell, Pick: scene.Pick{Age: forecast.Age{Grade: forecast.Expired}}}
	for _, src := range w.Sources {
		doc, err := w.newest(ctx, &s.cell, src)
		if err != nil {
			s.trouble, s.errors = append(s.trouble, troubleWith(src.Name(), err)), append(s.errors, fmt.Sprintf("%s: %v", src.Name(), err))
			w.Log.Warn("forecast source", "source", src.Name(), "cell", cell.Key, "error", err)
		}
		if s.Prefer(doc, w.Now()) {
			break
		}
	}
	return s, ctx.Err()
}

// newest is the newest document of a source for a cell, asked for when that is
// due; on an error it is the one kept, if there is one.
func (w *Runner) newest(ctx context.Context, cell *store.Cell, src forecast.Source) (store.Forecast, error) {
	last, err := w.Store.LastForecast(ctx, cell.ID, src.Name())
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return store.Forecast{}, err
	}
	now := w.Now()
	if last.ID != 0 && (now.Before(last.Expires) || now.Sub(last.Checked) < askAgain && last.Expires.IsZero()) {
		return last, nil
	}
	at, err := w.cellFor(ctx, cell, src)
	if err != nil {
		return last, err
	}
	validators := forecast.Validators{}
	if last.ID != 0 {
		validators = forecast.Validators{LastModified: last.LastModified, ETag: last.ETag, Expires: last.Expires, Issued: last.Issued}
	}
	doc, err := src.Fetch(ctx, at, validators)
	if errors.Is(err, forecast.ErrMoved) {
		return w.moved(ctx, cell, src, last, err)
	}
	if err != nil {
		return last, err
	}
	return w.keepDocument(ctx, cell, src, last, doc)
}

// moved resolves a vanished cell once; the next round fetches the new one.
func (w *Runner) moved(ctx context.Context, cell *store.Cell, src forecast.Source, last store.Forecast, cause error) (store.Forecast, error) {
	if src.Name() != sourceOf(cell.Key) {
		delete(cell.Sources, src.Name())
		return last, cause
	}
	next, err := w.replace(ctx, *cell, true)
	if err != nil {
		return last, errors.Join(cause, err)
	}
	*cell = next
	at, err := w.cellFor(ctx, cell, src)
	if err != nil {
		return last, errors.Join(cause, err)
	}
	doc, err := src.Fetch(ctx, at, forecast.Validators{})
	if err != nil {
		return last, err
	}
	return w.keepDocument(ctx, cell, src, store.Forecast{}, doc)
}

// cellFor is what a source needs to fetch a cell, resolved when it is not known.
func (w *Runner) cellFor(ctx context.Context, cell *store.Cell, src forecast.Source) (forecast.Cell, error) {
	var at forecast.Cell
	if body, ok := cell.Sources[src.Name()]; ok {
		if err := json.Unmarshal(body, &at); err != nil {
			return at, fmt.Errorf("cell %s: %w", cell.Key, err)
		}
		return at, nil
	}
	at, err := src.Resolve(ctx, forecast.Point{Latitude: cell.Latitude, Longitude: cell.Longitude, Elevation: cell.Elevation})
	if err != nil {
		return at, err
	}
	if err := keep(cell, at); err != nil {
		return at, err
	}
	return at, w.Store.Write(ctx, func(tx store.Writer) error { _, err := tx.SaveCell(ctx, *cell); return err })
}

func (w *Runner) keepDocument(ctx context.Context, cell *store.Cell, src forecast.Source, last store.Forecast, doc forecast.Document) (store.Forecast, error) {
	now := w.Now()
	if err := w.follow(ctx, cell, src, doc); err != nil {
		return last, err
	}
	kept := store.Forecast{
		CellID: cell.ID, Source: src.Name(), Issued: doc.Forecast.Issued, Fetched: now, Checked: now,
		Expires: doc.Expires, LastModified: doc.LastModified, ETag: doc.ETag, Body: doc.Forecast,
	}
	if doc.NotModified {
		last.Checked, last.Expires, last.LastModified, last.ETag = now, doc.Expires, doc.LastModified, doc.ETag
		kept = last
	}
	for _, warning := range slices.Concat(doc.Warnings, doc.Forecast.Warnings) {
		w.Log.Warn("forecast", "source", src.Name(), "cell", cell.Key, "warning", warning)
	}
	err := w.Store.Write(ctx, func(tx store.Writer) error {
		id, err := tx.AddForecast(ctx, kept)
		if err != nil {
			return err
		}
		kept.ID = id
		return w.recordPast(ctx, tx, cell.ID, kept.Body, now)
	})
	if err != nil {
		return last, fmt.Errorf("keep forecast of %s: %w", cell.Key, err)
	}
	return w.laterOf(last, kept), nil
}

// follow keeps what a source says anew about its cell; where the ruling source
// has moved it, the fields move with it, and their history.
func (w *Runner) follow(ctx context.Context, cell *store.Cell, src forecast.Source, doc forecast.Document) error {
	at, err := w.cellFor(ctx, cell, src)
	if err != nil || doc.Cell.Key == "" || doc.Cell.Key == at.Key && doc.Cell.Resolved.Equal(at.Resolved) {
		return err
	}
	if src.Name() == sourceOf(cell.Key) && doc.Cell.Key != cell.Key {
		next, err := w.replace(ctx, *cell, true)
		*cell = next
		return err
	}
	if err := keep(cell, doc.Cell); err != nil {
		return err
	}
	return w.Store.Write(ctx, func(tx store.Writer) error { _, err := tx.SaveCell(ctx, *cell); return err })
}

// laterOf: a service that answers with an older issue does not take the newer away.
func (w *Runner) laterOf(last, got store.Forecast) store.Forecast {
	if last.ID != 0 && last.Issued.After(got.Issued) {
		return last
	}
	return got
}

// recordPast keeps the hours of a document that have passed as the last
// analysis of them.
func (w *Runner) recordPast(ctx context.Context, tx store.Writer, cellID int64, f weather.Forecast, now time.Time) error {
	past := weather.Hours(f, now.Add(-48*time.Hour), now.Truncate(time.Hour))
	known := slices.DeleteFunc(past, func(h weather.Hour) bool { return !h.Air.Known() })
	if len(known) == 0 {
		return nil
	}
	return tx.PutHours(ctx, cellID, weather.Analysis, known)
}
