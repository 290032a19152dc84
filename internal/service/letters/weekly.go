// Package letters tells farms what no frost makes due: the weekly sign of life,
// lots that should be used, rooms that are full.
package letters

import (
	"context"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/announce"
	"winterstand/internal/service/plan"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Writer writes letters.
type Writer struct {
	Store     store.Store
	Catalogue plan.Catalogue
	Now       func() time.Time
}

// farmsAtOnce is how many farms are read in one page.
const farmsAtOnce = 200

// eachFarm does something for every farm; one failing does not keep the others.
func (w Writer) eachFarm(ctx context.Context, do func(farm.Farm) error) error {
	var errs []error
	page := store.Page{Limit: farmsAtOnce}
	for {
		farms, err := w.Store.Farms(ctx, page)
		if err != nil {
			return errors.Join(append(errs, err)...)
		}
		for _, f := range farms {
			if err := do(f); err != nil {
				errs = append(errs, fmt.Errorf("farm %d: %w", f.ID, err))
			}
			page.After = f.ID
		}
		if len(farms) < farmsAtOnce || ctx.Err() != nil {
			return errors.Join(errs...)
		}
	}
}

// StillWatching sends every farm that wants it its weekly sign of life.
func (w Writer) StillWatching(ctx context.Context) error {
	return w.eachFarm(ctx, func(f farm.Farm) error {
		if !f.StillWatching {
			return nil
		}
		facts, beds, err := w.signOfLife(ctx, f)
		if err != nil || beds == 0 {
			return err
		}
		return w.tellFarm(ctx, f, fmt.Sprintf("farm:%d", f.ID), facts)
	})
}

func (w Writer) signOfLife(ctx context.Context, f farm.Farm) (notice.Facts, int, error) {
	beds, err := w.Store.Beds(ctx, f.ID, store.BedFilter{})
	if err != nil {
		return notice.Facts{}, 0, err
	}
	verdicts, err := w.Store.Verdicts(ctx, f.ID)
	if err != nil {
		return notice.Facts{}, 0, err
	}
	life := notice.Watching{Beds: len(beds)}
	for _, b := range beds {
		v := verdicts[b.ID].Kept.At(w.Now(), f)
		if at := v.Forecast.Issued; !at.IsZero() {
			if t, ok := life.Issued.Get(); !ok || at.Before(t) {
				life.Issued = unit.Some(at)
			}
		}
		if v.State == farm.Unknown {
			life.Unseen++
		}
		by, ok := v.HarvestBefore.Get()
		if !ok {
			continue
		}
		life.Open++
		if next, ok := life.NextAt.Get(); !ok || by.Before(next) {
			life.Next, life.NextAt = b.Name, unit.Some(by)
		}
	}
	return notice.Facts{Kind: notice.StillWatching, Watching: &life}, len(beds), nil
}

// tellFarm writes one notice about a subject of a farm and addresses it. Its
// day is today in the farm's zone; the same kind about the same subject is told
// once a day at most.
func (w Writer) tellFarm(ctx context.Context, f farm.Farm, subject string, facts notice.Facts) error {
	zone, err := store.ZoneOf(ctx, w.Store, f)
	if err != nil {
		return err
	}
	now := w.Now()
	facts.Farm, facts.Zone, facts.Night = f.Name, zone.String(), farm.DayOf(now, zone)
	d := announce.Due{Owner: f, Zone: zone, Facts: facts, Notice: store.Notice{
		FarmID: f.ID, Subject: subject, Kind: facts.Kind, Night: facts.Night, IssuedAt: now}}
	return w.Store.Write(ctx, func(tx store.Writer) error {
		n, ok, err := announce.Write(ctx, tx, d)
		if err != nil || !ok {
			return err
		}
		return announce.Address(ctx, tx, []announce.Addressed{{Notice: n, Owner: f, Zone: zone}}, now)
	})
}
