package book

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var rooms = row.Of("room", "id", func(r *farm.Room) []row.Column {
	return []row.Column{
		row.Whole("id", &r.ID).Given(),
		row.Whole("farm_id", &r.FarmID).Fixed(),
		row.Text("name", &r.Name),
		row.Text("kind", &r.Kind),
		row.Number("temperature_c", &r.Temperature),
		row.MaybeNumber("humidity", &r.Humidity),
		row.MaybeNumber("capacity_kg", &r.CapacityKg),
		row.MaybeAt("removed_at", &r.RemovedAt),
		row.At("created_at", &r.CreatedAt).Fixed(),
		row.Whole("version", &r.Version).Given(),
	}
})

var lots = row.Of("lot", "id", func(l *farm.Lot) []row.Column {
	return []row.Column{
		row.Whole("id", &l.ID).Given(),
		row.Whole("farm_id", &l.FarmID).Fixed(),
		row.Whole("room_id", &l.RoomID),
		row.Text("crop", &l.Crop),
		row.Text("variety", &l.Variety),
		row.Number("kg", &l.Kg),
		row.At("harvested_at", &l.HarvestedAt),
		row.Text("container", &l.Container),
		row.MaybeAt("cured_at", &l.CuredAt),
		row.Ref("from_bed_id", &l.FromBedID),
		row.MaybeAt("ended_at", &l.EndedAt),
		row.At("created_at", &l.CreatedAt).Fixed(),
		row.Whole("version", &l.Version).Given(),
	}
})

func (r reader) Room(ctx context.Context, farmID, id int64) (_ farm.Room, err error) {
	defer row.Wrap(&err, "room %d", id)
	return one(ctx, r.q, rooms, ofFarm, farmID, id)
}

func (r reader) Rooms(ctx context.Context, farmID int64, p store.Page) (_ []farm.Room, err error) {
	defer row.Wrap(&err, "rooms of farm %d", farmID)
	return many(ctx, r.q, rooms, `WHERE farm_id = ?1 AND id > ?2 AND removed_at IS NULL ORDER BY id LIMIT ?3`,
		farmID, p.After, limit(p.Limit))
}

func (w writer) AddRoom(ctx context.Context, r farm.Room) (_ int64, err error) {
	defer row.Wrap(&err, "add room %q", r.Name)
	return add(ctx, w, rooms, r)
}

func (w writer) UpdateRoom(ctx context.Context, r farm.Room) (err error) {
	defer row.Wrap(&err, "update room %d", r.ID)
	return reviseOfFarm(ctx, w, rooms, r, r.FarmID, r.ID, r.Version)
}

func (r reader) Lot(ctx context.Context, farmID, id int64) (_ farm.Lot, err error) {
	defer row.Wrap(&err, "lot %d", id)
	return one(ctx, r.q, lots, ofFarm, farmID, id)
}

func (r reader) Lots(ctx context.Context, farmID int64, p store.Page) (_ []farm.Lot, err error) {
	defer row.Wrap(&err, "lots of farm %d", farmID)
	return many(ctx, r.q, lots, `WHERE farm_id = ?1 AND id > ?2 AND ended_at IS NULL ORDER BY id LIMIT ?3`,
		farmID, p.After, limit(p.Limit))
}

func (w writer) AddLot(ctx context.Context, l farm.Lot) (_ int64, err error) {
	defer row.Wrap(&err, "add lot of %s", l.Crop)
	return add(ctx, w, lots, l)
}

func (w writer) UpdateLot(ctx context.Context, l farm.Lot) (err error) {
	defer row.Wrap(&err, "update lot %d", l.ID)
	return reviseOfFarm(ctx, w, lots, l, l.FarmID, l.ID, l.Version)
}
