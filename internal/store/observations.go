package store

import (
	"context"
	"time"

	"winterstand/internal/farm"
)

// ObservationReader finds what people have measured and seen.
type ObservationReader interface {
	// Readings of a field, by At ascending, At in [from, to).
	Readings(ctx context.Context, farmID, fieldID int64, from, to time.Time) ([]farm.Reading, error)
	// Findings of a farm, by ID; bedID 0: all beds.
	Findings(ctx context.Context, farmID, bedID int64) ([]farm.Finding, error)
}

// ObservationWriter adds to it.
type ObservationWriter interface {
	AddReadings(ctx context.Context, rs []farm.Reading) ([]int64, error)
	AddFinding(ctx context.Context, f farm.Finding) (int64, error)
}
