package book

import (
	"cmp"
	"context"
	"fmt"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// keptVerdict is a verdict whole, and beside it what people may look for in
// the table.
type keptVerdict struct {
	store.Verdict
	judged farm.Verdict
}

var verdicts = row.Of("verdict", "bed_id", func(v *keptVerdict) []row.Column {
	return []row.Column{
		row.Whole("bed_id", &v.BedID).Fixed(),
		row.At("as_of", &v.judged.AsOf).Repeated(),
		row.Ref("forecast_id", &v.judged.Forecast.ID).Repeated(),
		row.Text("state", &v.judged.State).Repeated(),
		row.MaybeAt("harvest_before", &v.judged.HarvestBefore).Repeated(),
		row.MaybeNumber("likelihood", &v.judged.Likelihood).Repeated(),
		row.Text("night", &v.judged.Night).Repeated(),
		row.JSON("body", &v.Kept),
		row.JSON("watch", &v.Event),
	}
})

func (r reader) Verdict(ctx context.Context, bedID int64) (_ store.Verdict, err error) {
	defer row.Wrap(&err, "verdict of bed %d", bedID)
	v, err := one(ctx, r.q, verdicts, `WHERE bed_id = ?1`, bedID)
	return v.Verdict, err
}

func (r reader) Verdicts(ctx context.Context, farmID int64) (_ map[int64]store.Verdict, err error) {
	defer row.Wrap(&err, "verdicts of farm %d", farmID)
	return r.verdicts(ctx, `farm_id = ?1 AND `+standing, farmID)
}

func (r reader) VerdictsOfCell(ctx context.Context, cellID int64) (_ map[int64]store.Verdict, err error) {
	defer row.Wrap(&err, "verdicts of cell %d", cellID)
	return r.verdicts(ctx, standingInCell, cellID)
}

func (r reader) verdicts(ctx context.Context, ofBeds string, id int64) (map[int64]store.Verdict, error) {
	list, err := many(ctx, r.q, verdicts, `WHERE bed_id IN (SELECT id FROM bed WHERE `+ofBeds+`)`, id)
	byBed := make(map[int64]store.Verdict, len(list))
	for _, v := range list {
		byBed[v.BedID] = v.Verdict
	}
	return byBed, err
}

// SaveVerdicts keeps the last of a bed. A verdict that was never made is not kept.
func (w writer) SaveVerdicts(ctx context.Context, vs []store.Verdict) (err error) {
	defer row.Wrap(&err, "save %d verdicts", len(vs))
	list := make([]keptVerdict, len(vs))
	for i, v := range vs {
		judged, known := v.Kept.AsJudged()
		if !known {
			return fmt.Errorf("bed %d: no verdict to keep", v.BedID)
		}
		list[i] = keptVerdict{v, judged}
	}
	byBed := lasts(list, func(a, b keptVerdict) int { return cmp.Compare(a.BedID, b.BedID) })
	return bulk(ctx, w, verdicts, verdicts.Replace(), byBed, func(v keptVerdict) string { return fmt.Sprintf("bed %d", v.BedID) })
}
