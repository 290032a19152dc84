package store

import (
	"context"
	"encoding/json"
	"time"

	"winterstand/internal/unit"
)

// CellReader finds the places of forecasts.
type CellReader interface {
	Cell(ctx context.Context, id int64) (Cell, error)
	CellByKey(ctx context.Context, key string) (Cell, error)
	// CellsInUse are the cells that hold a field with a standing bed.
	CellsInUse(ctx context.Context) ([]Cell, error)
}

// CellWriter changes them.
type CellWriter interface {
	SaveCell(ctx context.Context, c Cell) (int64, error) // insert or update by Key
}

// Cell is a forecast point that fields share. Sources holds, by source name,
// what that source needs to fetch it.
type Cell struct {
	ID         int64
	Key        string // "nws:FGZ/74,89"
	Latitude   float64
	Longitude  float64
	Elevation  unit.Maybe[float64]
	TimeZone   string
	Sources    map[string]json.RawMessage
	Warnings   []string
	ResolvedAt time.Time
}
