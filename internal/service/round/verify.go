package round

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// VerifiedMemo is what a cell's past forecasts have taught of their error, a
// verdict.Verified; owner cell:ID.
const VerifiedMemo = "verified"

// verifiedDays is how far back forecasts are held against what came.
const verifiedDays = 120

// verify learns the cell's forecast error anew from its scored judgements, each
// night and lead once.
func (k *knowledge) verify(ctx context.Context) error {
	var v verdict.Verified
	today := farm.DayOf(k.s.now, time.UTC)
	for _, farmID := range sortedKeys(k.farms) {
		scored, err := k.w.Store.Judgements(ctx, farmID, today.Add(-verifiedDays), today)
		if err != nil {
			return err
		}
		seen := map[string]bool{}
		for _, j := range scored {
			was, ok := j.AirMinWas.Get()
			key := fmt.Sprintf("%s/%d/%.1f", j.Night, j.LeadDays, j.AirMinC)
			if !ok || seen[key] {
				continue
			}
			seen[key] = true
			// The usual is the forecast itself: there is no climate to depart from.
			issued := unit.Celsius(j.AirMinC)
			v.Learn(j.LeadDays, issued, unit.Celsius(was), issued)
		}
	}
	return k.w.Store.Write(ctx, func(tx store.Writer) error {
		return remember(ctx, tx, fmt.Sprintf("cell:%d", k.s.cell.ID), VerifiedMemo, v, k.w.Now())
	})
}

// applyVerified lets dressed members err as this cell's forecasts have.
func (w *Watcher) applyVerified(ctx context.Context, s *scene) error {
	if s.spread != verdict.FromDressing {
		return nil
	}
	var v verdict.Verified
	if err := w.recall(ctx, fmt.Sprintf("cell:%d", s.cell.ID), VerifiedMemo, &v); err != nil {
		return err
	}
	v.Apply(s.members, s.coming, s.now)
	return nil
}
