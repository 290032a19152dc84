package score

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/verdict"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// verifiedDays is how far back forecasts are held against what came.
const verifiedDays = 120

// verify learns the cell's forecast error anew from its scored judgements, each
// night and lead once.
func (k marker) verify(ctx context.Context) error {
	var v verdict.Verified
	today := farm.DayOf(k.Scene.Now, time.UTC)
	for _, farmID := range slices.Sorted(maps.Keys(k.Farms)) {
		scored, err := k.Reader.Store.Judgements(ctx, farmID, today.Add(-verifiedDays), today)
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
	return k.Reader.Store.Write(ctx, func(tx store.Writer) error {
		return store.Remember(ctx, tx, fmt.Sprintf("cell:%d", k.Scene.Cell.ID), scene.VerifiedMemo, v, k.Reader.Now())
	})
}
