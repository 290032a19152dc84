package scene

import (
	"log/slog"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/store"
)

// Catalogue finds crops by name.
type Catalogue interface {
	Find(name string) (crop.Crop, error)
}

// Reader lays out scenes from the book.
type Reader struct {
	Store       store.Store
	SourceNames []string // of forecasts, in order
	Catalogue   Catalogue
	Log         *slog.Logger
	Now         func() time.Time
	Members     int // courses per forecast
}
