package book

import (
	"context"
	"errors"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// The same issue again changes when it was confirmed, not what it says.
var forecasts = row.Of("forecast", "cell_id, source, issued_at", func(f *store.Forecast) []row.Column {
	return []row.Column{
		row.Whole("id", &f.ID).Given(),
		row.Whole("cell_id", &f.CellID).Fixed(),
		row.Text("source", &f.Source).Fixed(),
		row.At("issued_at", &f.Issued).Fixed(),
		row.At("fetched_at", &f.Fetched).Fixed(),
		row.At("checked_at", &f.Checked),
		row.AtOrNull("expires_at", &f.Expires),
		row.Text("last_modified", &f.LastModified),
		row.Text("etag", &f.ETag),
		row.Packed("body", &f.Body).Fixed(),
	}
})

func (r reader) LastForecast(ctx context.Context, cellID int64, source string) (_ store.Forecast, err error) {
	defer row.Wrap(&err, "last forecast of %s for cell %d", source, cellID)
	return one(ctx, r.q, forecasts, `WHERE cell_id = ?1 AND source = ?2 ORDER BY issued_at DESC LIMIT 1`, cellID, source)
}

func (r reader) Forecast(ctx context.Context, id int64) (_ store.Forecast, err error) {
	defer row.Wrap(&err, "forecast %d", id)
	return one(ctx, r.q, forecasts, `WHERE id = ?1`, id)
}

// AddForecast may meet another process that adds the same issue: then the
// second confirms the first.
func (w writer) AddForecast(ctx context.Context, f store.Forecast) (_ int64, err error) {
	defer row.Wrap(&err, "add forecast of %s for cell %d", f.Source, f.CellID)
	id, err := w.confirmForecast(ctx, f)
	if errors.Is(err, store.ErrNotFound) {
		id, err = addNew(ctx, w, forecasts, f)
	}
	if errors.Is(err, store.ErrExists) {
		return w.confirmForecast(ctx, f)
	}
	return id, err
}

// confirmForecast notes that an issue is still the newest; ErrNotFound: it is a
// new one. It spares compressing a body that is there already.
func (w writer) confirmForecast(ctx context.Context, f store.Forecast) (int64, error) {
	vs, err := forecasts.Changed(f)
	if err != nil {
		return 0, err
	}
	return scalar[int64](ctx, w.tx, `UPDATE forecast SET `+forecasts.Set(3)+`
		WHERE cell_id = ?1 AND source = ?2 AND issued_at = ?3 RETURNING id`,
		append([]any{f.CellID, f.Source, row.Instant(f.Issued)}, vs...)...)
}
