package book

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store/row"
)

var readings = row.Of("reading", "id", func(r *farm.Reading) []row.Column {
	return []row.Column{
		row.Whole("id", &r.ID).Given(),
		row.Whole("farm_id", &r.FarmID),
		row.Whole("field_id", &r.FieldID),
		row.At("at", &r.At),
		row.Text("quantity", &r.Quantity),
		row.MaybeNumber("depth_cm", &r.DepthCm),
		row.Number("value", &r.Value),
	}
})

var findings = row.Of("finding", "id", func(f *farm.Finding) []row.Column {
	return []row.Column{
		row.Whole("id", &f.ID).Given(),
		row.Whole("farm_id", &f.FarmID),
		row.Whole("bed_id", &f.BedID),
		row.Text("night", &f.Night),
		row.Number("lost_fraction", &f.LostFraction),
		row.Text("note", &f.Note),
		row.At("created_at", &f.CreatedAt),
	}
})

func (r reader) Readings(ctx context.Context, farmID, fieldID int64, from, to time.Time) (_ []farm.Reading, err error) {
	defer row.Wrap(&err, "readings of field %d", fieldID)
	return many(ctx, r.q, readings, `WHERE farm_id = ?1 AND field_id = ?2 AND at >= ?3 AND at < ?4 ORDER BY at, id`,
		farmID, fieldID, row.Instant(from), row.Instant(to))
}

func (w writer) AddReadings(ctx context.Context, rs []farm.Reading) (_ []int64, err error) {
	defer row.Wrap(&err, "add %d readings", len(rs))
	rows, err := readings.Rows(rs, func(r farm.Reading) string { return fmt.Sprintf("%s of field %d", r.Quantity, r.FieldID) })
	if err != nil {
		return nil, err
	}
	return w.tx.AddEach(ctx, readings.Insert("RETURNING id"), rows)
}

func (r reader) Findings(ctx context.Context, farmID, bedID int64) (_ []farm.Finding, err error) {
	defer row.Wrap(&err, "findings of farm %d", farmID)
	var c conditions
	c.and("farm_id =", farmID)
	if bedID != 0 {
		c.and("bed_id =", bedID)
	}
	return many(ctx, r.q, findings, c.text()+` ORDER BY id`, c.args...)
}

func (w writer) AddFinding(ctx context.Context, f farm.Finding) (_ int64, err error) {
	defer row.Wrap(&err, "add finding of bed %d", f.BedID)
	return add(ctx, w, findings, f)
}
