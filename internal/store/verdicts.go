package store

import (
	"context"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// VerdictReader finds how the beds stand, and how they were judged.
type VerdictReader interface {
	// Verdict is the latest of one bed.
	Verdict(ctx context.Context, bedID int64) (Verdict, error)
	// Verdicts are the latest of all standing beds of a farm, by bed ID.
	Verdicts(ctx context.Context, farmID int64) (map[int64]Verdict, error)
	// VerdictsOfCell are the latest of all standing beds of a cell, by bed ID.
	VerdictsOfCell(ctx context.Context, cellID int64) (map[int64]Verdict, error)
	// Judgements of a farm (0: all) for nights in [from, to], by ID.
	Judgements(ctx context.Context, farmID int64, from, to farm.Day) ([]Judgement, error)
}

// VerdictWriter changes it.
type VerdictWriter interface {
	SaveVerdicts(ctx context.Context, vs []Verdict) error
	// AddJudgements keeps the first per (bed, night, lead days).
	AddJudgements(ctx context.Context, js []Judgement) error
	// ScoreJudgement writes what the night brought, for all leads of (bed, night).
	ScoreJudgement(ctx context.Context, bedID int64, night farm.Day, lost, airMin float64) error
}

// Verdict is the latest judgement of a bed with the record of what was told.
type Verdict struct {
	BedID int64
	Kept  farm.Kept
	Event farm.Event
}

// Judgement is one night of one bed as judged some days before, for scoring.
type Judgement struct {
	ID         int64
	FarmID     int64
	BedID      int64
	Crop       string
	Night      farm.Day
	LeadDays   int
	IssuedAt   time.Time
	Likelihood float64
	CostLoss   float64
	Acted      bool // a notice stood for this night
	AirMinC    float64
	Lost       unit.Maybe[float64] // scored after the night
	AirMinWas  unit.Maybe[float64]
}
