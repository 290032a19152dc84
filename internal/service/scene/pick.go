package scene

import (
	"context"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/store"
)

// Pick is the document by which a cell is judged; a zero ID: none at all.
type Pick struct {
	Doc store.Forecast
	Age forecast.Age
}

// Prefer takes a document that is better than what there is, and tells whether
// no other need be looked at.
func (p *Pick) Prefer(doc store.Forecast, now time.Time) bool {
	if doc.ID == 0 {
		return false
	}
	age := forecast.Stale(doc.Body, now, forecast.DefaultLimits)
	if p.Doc.ID == 0 || age.Grade < p.Age.Grade {
		p.Doc, p.Age = doc, age
	}
	return p.Age.Grade == forecast.Fresh
}

// Best is the document that would be judged now, without asking anybody.
func (w *Reader) Best(ctx context.Context, cell store.Cell) (store.Forecast, error) {
	var p Pick
	for _, source := range w.SourceNames {
		doc, err := w.Store.LastForecast(ctx, cell.ID, source)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return doc, fmt.Errorf("forecast of %s: %w", cell.Key, err)
		}
		if p.Prefer(doc, w.Now()) {
			break
		}
	}
	return p.Doc, nil
}
