package book

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var beds = row.Of("bed", "id", func(b *farm.Bed) []row.Column {
	return []row.Column{
		row.Whole("id", &b.ID).Given(),
		row.Whole("farm_id", &b.FarmID).Fixed(),
		row.Whole("field_id", &b.FieldID),
		row.Text("name", &b.Name),
		row.Text("crop", &b.Crop),
		row.Text("variety", &b.Variety),
		row.Text("purpose", &b.Purpose),
		row.MaybeText("sown_on", &b.SownOn),
		row.MaybeNumber("standing_kg", &b.StandingKg),
		row.MaybeNumber("price_per_kg", &b.PricePerKg),
		row.MaybeNumber("lift_kg_per_hour", &b.LiftKgPerHour),
		row.MaybeNumber("cost_loss", &b.CostLossSet),
		row.MaybeNumber("tolerance_shift_k", &b.ToleranceSet),
		row.Nested("covers", &b.Covers),
		row.Nested("mulches", &b.Mulches),
		row.MaybeAt("cleared_at", &b.ClearedAt),
		row.MaybeAt("quiet_until", &b.QuietUntil),
		row.At("created_at", &b.CreatedAt).Fixed(),
		row.Whole("version", &b.Version).Given(),
	}
})

const (
	standing = `cleared_at IS NULL AND field_id IN (SELECT id FROM field WHERE removed_at IS NULL)`
	// standingInCell is for a cell at ?1.
	standingInCell = `cleared_at IS NULL AND field_id IN (SELECT id FROM field WHERE cell_id = ?1 AND removed_at IS NULL)`
)

func (r reader) Bed(ctx context.Context, farmID, id int64) (_ farm.Bed, err error) {
	defer row.Wrap(&err, "bed %d", id)
	return one(ctx, r.q, beds, ofFarm, farmID, id)
}

// Beds that stand are not cleared, and neither is their field removed.
func (r reader) Beds(ctx context.Context, farmID int64, f store.BedFilter) (_ []farm.Bed, err error) {
	defer row.Wrap(&err, "beds of farm %d", farmID)
	var c conditions
	c.and("farm_id =", farmID)
	c.and("id >", f.After)
	if f.FieldID != 0 {
		c.and("field_id =", f.FieldID)
	}
	if !f.Cleared {
		c.plain(standing)
	}
	return many(ctx, r.q, beds, c.text()+` ORDER BY id LIMIT `+c.mark(limit(f.Limit)), c.args...)
}

func (r reader) BedsOfCell(ctx context.Context, cellID int64) (_ []farm.Bed, err error) {
	defer row.Wrap(&err, "beds of cell %d", cellID)
	return many(ctx, r.q, beds, `WHERE `+standingInCell+` ORDER BY id`, cellID)
}

func (w writer) AddBed(ctx context.Context, b farm.Bed) (_ int64, err error) {
	defer row.Wrap(&err, "add bed %q", b.Name)
	return add(ctx, w, beds, b)
}

func (w writer) UpdateBed(ctx context.Context, b farm.Bed) (err error) {
	defer row.Wrap(&err, "update bed %d", b.ID)
	return reviseOfFarm(ctx, w, beds, b, b.FarmID, b.ID, b.Version)
}
