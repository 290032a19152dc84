package store

import (
	"context"
	"time"

	"winterstand/internal/weather"
)

// WeatherReader finds forecasts, past hours, and states computed from them.
type WeatherReader interface {
	// LastForecast is the newest by Issued of one source for a cell.
	LastForecast(ctx context.Context, cellID int64, source string) (Forecast, error)
	Forecast(ctx context.Context, id int64) (Forecast, error)
	// Hours of a cell with At in [from, to), ascending, the strongest origin for each.
	Hours(ctx context.Context, cellID int64, from, to time.Time) ([]weather.Hour, error)
	// Checkpoints of a cell by class.
	Checkpoints(ctx context.Context, cellID int64) (map[string]Checkpoint, error)
}

// WeatherWriter changes them.
type WeatherWriter interface {
	// AddForecast writes a document once per (cell, source, issued); the same
	// issue again updates its validators and Checked, and gives the old ID.
	AddForecast(ctx context.Context, f Forecast) (int64, error)
	// PutHours keeps for each quantity of each hour what the strongest origin
	// knows of it; the same origin again replaces what it knows.
	PutHours(ctx context.Context, cellID int64, origin weather.Origin, hours []weather.Hour) error
	// CopyHours copies the history of a cell to another, where that has none.
	CopyHours(ctx context.Context, from, to int64) error
	SaveCheckpoints(ctx context.Context, cellID int64, byClass map[string]Checkpoint) error
	// DropCheckpoints of a cell that hold past t: its history changed there.
	DropCheckpoints(ctx context.Context, cellID int64, t time.Time) error
}

// Forecast is one issued document of one source for a cell.
type Forecast struct {
	ID           int64
	CellID       int64
	Source       string
	Issued       time.Time
	Fetched      time.Time // when its bytes came
	Checked      time.Time // when it was last confirmed to be the newest
	Expires      time.Time // do not ask before; zero: unknown
	LastModified string
	ETag         string
	Body         weather.Forecast // kept compressed
}

// Checkpoint is a state computed from a cell's history up to an hour. It is a
// cache of a deterministic computation: losing it costs time, nothing else.
type Checkpoint struct {
	AsOf time.Time
	Body []byte
}
