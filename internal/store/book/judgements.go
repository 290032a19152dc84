package book

import (
	"cmp"
	"context"
	"fmt"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
	"winterstand/internal/unit"
)

var judgements = row.Of("judgement", "bed_id, night, lead_days", func(j *store.Judgement) []row.Column {
	return []row.Column{
		row.Whole("id", &j.ID).Given(),
		row.Whole("farm_id", &j.FarmID).Fixed(),
		row.Whole("bed_id", &j.BedID).Fixed(),
		row.Text("crop", &j.Crop).Fixed(),
		row.Text("night", &j.Night).Fixed(),
		row.Whole("lead_days", &j.LeadDays).Fixed(),
		row.At("issued_at", &j.IssuedAt).Fixed(),
		row.Number("likelihood", &j.Likelihood).Fixed(),
		row.Number("cost_loss", &j.CostLoss).Fixed(),
		row.Truth("acted", &j.Acted).Fixed(),
		row.Number("air_min_c", &j.AirMinC).Fixed(),
		row.MaybeNumber("lost_fraction", &j.Lost), // ScoreJudgement
		row.MaybeNumber("air_min_was_c", &j.AirMinWas),
	}
})

func (r reader) Judgements(ctx context.Context, farmID int64, from, to farm.Day) (_ []store.Judgement, err error) {
	defer row.Wrap(&err, "judgements of nights %s to %s", from, to)
	var c conditions
	c.and("night >=", string(from))
	c.and("night <=", string(to))
	if farmID != 0 {
		c.and("farm_id =", farmID)
	}
	return many(ctx, r.q, judgements, c.text()+` ORDER BY id`, c.args...)
}

func (w writer) AddJudgements(ctx context.Context, js []store.Judgement) (err error) {
	defer row.Wrap(&err, "add %d judgements", len(js))
	return bulk(ctx, w, judgements, judgements.Keep(), firsts(js, byNightAndLead), nameJudgement)
}

func byNightAndLead(a, b store.Judgement) int {
	return cmp.Or(cmp.Compare(a.BedID, b.BedID), cmp.Compare(a.Night, b.Night), cmp.Compare(a.LeadDays, b.LeadDays))
}

func nameJudgement(j store.Judgement) string {
	return fmt.Sprintf("bed %d, night %s", j.BedID, j.Night)
}

func (w writer) ScoreJudgement(ctx context.Context, bedID int64, night farm.Day, lost, airMin float64) (err error) {
	defer row.Wrap(&err, "score judgements of bed %d, night %s", bedID, night)
	vs, err := judgements.Changed(store.Judgement{Lost: unit.Some(lost), AirMinWas: unit.Some(airMin)})
	if err != nil {
		return err
	}
	_, err = w.tx.Exec(ctx, `UPDATE judgement SET `+judgements.Set(2)+` WHERE bed_id = ?1 AND night = ?2`,
		append([]any{bedID, string(night)}, vs...)...)
	return err
}
