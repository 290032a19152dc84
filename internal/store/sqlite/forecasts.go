package sqlite

import (
	"context"
	"errors"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	forecastValues  = "cell_id, source, issued_at, fetched_at, checked_at, expires_at, last_modified, etag, body"
	forecastColumns = "id, " + forecastValues
)

func (r reader) LastForecast(ctx context.Context, cellID int64, source string) (_ store.Forecast, err error) {
	defer row.Wrap(&err, "last forecast of %s for cell %d", source, cellID)
	return one(ctx, r.q, row.ScanForecast, `SELECT `+forecastColumns+` FROM forecast
		WHERE cell_id = ?1 AND source = ?2 ORDER BY issued_at DESC LIMIT 1`, cellID, source)
}

func (r reader) Forecast(ctx context.Context, id int64) (_ store.Forecast, err error) {
	defer row.Wrap(&err, "forecast %d", id)
	return one(ctx, r.q, row.ScanForecast, `SELECT `+forecastColumns+` FROM forecast WHERE id = ?1`, id)
}

func (w writer) AddForecast(ctx context.Context, f store.Forecast) (_ int64, err error) {
	defer row.Wrap(&err, "add forecast of %s for cell %d", f.Source, f.CellID)
	id, err := w.confirmForecast(ctx, f)
	if !errors.Is(err, store.ErrNotFound) {
		return id, err
	}
	vs, err := row.ForecastValues(f)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "forecast", forecastValues, "", vs)
}

// confirmForecast notes that an issue is still the newest; ErrNotFound: it is a new one.
func (w writer) confirmForecast(ctx context.Context, f store.Forecast) (int64, error) {
	vs, err := row.CheckValues(f)
	if err != nil {
		return 0, err
	}
	return one(ctx, w.tx, scanID, `UPDATE forecast SET (checked_at, expires_at, last_modified, etag) = (?4, ?5, ?6, ?7)
		WHERE cell_id = ?1 AND source = ?2 AND issued_at = ?3 RETURNING id`, vs...)
}
