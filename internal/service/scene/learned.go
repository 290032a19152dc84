package scene

import (
	"context"
	"fmt"

	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Memo kinds of what a farm has taught, and of its being forgotten. Resetting
// writes the moment into the …Since memo: what came before counts no longer.
const (
	BiasMemo           = "bias"            // owner Field:ID, a microclimate.FieldBias
	BiasSinceMemo      = "bias-since"      // owner Field:ID, a time
	ToleranceMemo      = "tolerance"       // owner ToleranceOwner, a Taught
	ToleranceSinceMemo = "tolerance-since" // owner ToleranceOwner, a time
)

// Taught is a learned shift of a crop's tolerance on one farm.
type Taught struct {
	Offset   unit.Kelvins `json:"offset_k"` // negative: stands more than the book
	Sigma    unit.Kelvins `json:"sigma_k"`
	Nights   int          `json:"nights"`   // that had something to say
	Findings int          `json:"findings"` // that were heard
}

// ToleranceOwner names the memo of a farm, crop and variety.
func ToleranceOwner(farmID int64, crop, variety string) string {
	return fmt.Sprintf("farm:%d/%s/%s", farmID, crop, variety)
}

// VerifiedMemo is what a cell's past forecasts have taught of their error, a
// verdict.Verified; owner cell:ID.
const VerifiedMemo = "verified"

// applyVerified lets dressed members err as this cell's forecasts have.
func (w *Reader) applyVerified(ctx context.Context, s *Scene) error {
	if s.Spread != verdict.FromDressing {
		return nil
	}
	var v verdict.Verified
	if err := store.Recall(ctx, w.Store, fmt.Sprintf("cell:%d", s.Cell.ID), VerifiedMemo, &v); err != nil {
		return err
	}
	v.Apply(s.Members, s.Coming, s.Now)
	return nil
}
