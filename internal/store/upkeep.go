package store

import (
	"context"
	"time"

	"winterstand/internal/unit"
)

// UpkeepReader looks at the whole book.
type UpkeepReader interface {
	// Counts are the figures for the metrics page.
	Counts(ctx context.Context) (Counts, error)
}

// UpkeepWriter tidies it, and leaves work to be done later.
type UpkeepWriter interface {
	// Prune forgets what is past its use: replies, sessions and one-time keys
	// ended before now; forecasts and checkpoints older than keep that no
	// notice rests on, but never the newest of a cell and source; hours older
	// than two years.
	Prune(ctx context.Context, now time.Time, keep time.Duration) error
	// Enqueue adds jobs in the same transaction.
	Enqueue(ctx context.Context, jobs ...Job) error
}

// Job is work to be done after the transaction. Exactly one of the IDs is set.
type Job struct {
	MessageID int64
	CellID    int64     // poll and judge this cell
	FieldID   int64     // place this field, then judge its cell
	At        time.Time // zero: at once
}

// Counts are totals over the whole book.
type Counts struct {
	Farms, Fields, Beds, Cells            int64
	Notices                               int64
	MessagesQueued, MessagesSent, GivenUp int64
	OldestQueued                          unit.Maybe[time.Time]
	OldestForecast                        unit.Maybe[time.Time] // least recent newest forecast among cells in use
}
