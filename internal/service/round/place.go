package round

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
)

// resolveEvery: cells move without notice when an office redefines its grid.
const resolveEvery = 24 * time.Hour

// Place finds the cell of a field: that of the first source which covers it.
// When no source can be asked the error says why, and the field's people are
// told that it cannot be seen.
func (w *Runner) Place(ctx context.Context, f store.Field) (store.Cell, error) {
	found, err := w.resolve(ctx, f)
	if err != nil {
		if tell := w.tellUnplaced(ctx, f, err); tell != nil {
			err = errors.Join(err, tell)
		}
		return store.Cell{}, err
	}
	cell, err := w.cellOf(ctx, found)
	if err != nil {
		return store.Cell{}, err
	}
	err = w.Store.Write(ctx, func(tx store.Writer) error {
		id, err := tx.SaveCell(ctx, cell)
		if err != nil {
			return err
		}
		if f.CellID != 0 && f.CellID != id {
			if err := tx.CopyHours(ctx, f.CellID, id); err != nil {
				return err
			}
		}
		cell.ID = id
		return tx.PlaceField(ctx, f.ID, id)
	})
	if err != nil {
		return store.Cell{}, fmt.Errorf("place field %d: %w", f.ID, err)
	}
	for _, warning := range cell.Warnings {
		w.Log.Warn("forecast cell", "field", f.ID, "cell", cell.Key, "warning", warning)
	}
	return cell, nil
}

func (w *Runner) resolve(ctx context.Context, f store.Field) (forecast.Cell, error) {
	p, err := forecast.Point{Latitude: f.Latitude, Longitude: f.Longitude, Elevation: f.Elevation}.Normal()
	if err != nil {
		return forecast.Cell{}, fmt.Errorf("place field %d: %w", f.ID, err)
	}
	var errs []error
	var with []notice.Trouble
	for _, s := range w.Sources {
		c, err := s.Resolve(ctx, p)
		if err == nil {
			return c, nil
		}
		errs, with = append(errs, fmt.Errorf("%s: %w", s.Name(), err)), append(with, troubleWith(s.Name(), err))
	}
	return forecast.Cell{}, &unplaced{fmt.Errorf("place field %d: %w", f.ID, errors.Join(errs...)), with}
}

// cellOf is the cell of the book for a resolved one, with what it already knew.
func (w *Runner) cellOf(ctx context.Context, found forecast.Cell) (store.Cell, error) {
	cell, err := w.Store.CellByKey(ctx, found.Key)
	if errors.Is(err, store.ErrNotFound) {
		cell = store.Cell{Key: found.Key, Sources: map[string]json.RawMessage{}}
	} else if err != nil {
		return cell, fmt.Errorf("cell %s: %w", found.Key, err)
	}
	if err := keep(&cell, found); err != nil {
		return cell, err
	}
	cell.Latitude, cell.Longitude = found.Latitude, found.Longitude
	cell.Elevation, cell.Warnings, cell.ResolvedAt = found.Elevation, found.Warnings, w.Now()
	if found.TimeZone != "" {
		cell.TimeZone = found.TimeZone
	}
	return cell, nil
}

func keep(cell *store.Cell, found forecast.Cell) error {
	body, err := json.Marshal(found)
	if err != nil {
		return fmt.Errorf("cell %s: %w", found.Key, err)
	}
	if cell.Sources == nil {
		cell.Sources = map[string]json.RawMessage{}
	}
	cell.Sources[found.Source] = body
	return nil
}

// replace resolves the fields of a cell again when that is due or forced, and
// gives the cell they are in now; several, when they part.
func (w *Runner) replace(ctx context.Context, cell store.Cell, forced bool) (store.Cell, error) {
	if !forced && w.Now().Sub(cell.ResolvedAt) < resolveEvery {
		return cell, nil
	}
	fields, err := w.Store.FieldsOfCell(ctx, cell.ID)
	if err != nil {
		return cell, fmt.Errorf("cell %s: %w", cell.Key, err)
	}
	now := cell
	for _, f := range fields {
		found, err := w.resolve(ctx, f)
		if err != nil {
			w.Log.Warn("cannot resolve again, the old cell stays", "field", f.ID, "cell", cell.Key, "error", err)
			return cell, nil
		}
		if found.Source != sourceOf(cell.Key) {
			continue // a passing failure of the first source must not move a field to another
		}
		if now, err = w.Place(ctx, f); err != nil {
			return cell, err
		}
	}
	return now, nil
}

func sourceOf(key string) string {
	for i := range key {
		if key[i] == ':' {
			return key[:i]
		}
	}
	return key
}

// Settle gives the cell of a field, finding it first when there is none; 0: the
// field is gone, or nothing stands in it.
func (w *Runner) Settle(ctx context.Context, fieldID int64) (int64, error) {
	done, err := w.turns.lock(ctx, fmt.Sprintf("field %d", fieldID))
	if err != nil {
		return 0, err
	}
	defer done()
	fields, err := w.Store.UnplacedFields(ctx)
	if err != nil {
		return 0, fmt.Errorf("settle field %d: %w", fieldID, err)
	}
	for _, f := range fields {
		if f.ID == fieldID {
			cell, err := w.Place(ctx, f)
			return cell.ID, err
		}
	}
	return w.cellHolding(ctx, fieldID)
}

// cellHolding finds the cell of a field that was placed meanwhile.
func (w *Runner) cellHolding(ctx context.Context, fieldID int64) (int64, error) {
	cells, err := w.Store.CellsInUse(ctx)
	if err != nil {
		return 0, fmt.Errorf("settle field %d: %w", fieldID, err)
	}
	for _, c := range cells {
		fields, err := w.Store.FieldsOfCell(ctx, c.ID)
		if err != nil {
			return 0, fmt.Errorf("settle field %d: %w", fieldID, err)
		}
		for _, f := range fields {
			if f.ID == fieldID {
				return c.ID, nil
			}
		}
	}
	return 0, nil
}
