package sqlite

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	roomValues  = "name, kind, temperature_c, humidity, capacity_kg, removed_at"
	roomColumns = "id, farm_id, " + roomValues + ", created_at, version"
	lotValues   = "room_id, crop, variety, kg, harvested_at, container, cured_at, from_bed_id, ended_at"
	lotColumns  = "id, farm_id, " + lotValues + ", created_at, version"
)

func (r reader) Room(ctx context.Context, farmID, id int64) (_ farm.Room, err error) {
	defer row.Wrap(&err, "room %d", id)
	return one(ctx, r.q, row.ScanRoom, `SELECT `+roomColumns+` FROM room WHERE farm_id = ?1 AND id = ?2`, farmID, id)
}

func (r reader) Rooms(ctx context.Context, farmID int64, p store.Page) (_ []farm.Room, err error) {
	defer row.Wrap(&err, "rooms of farm %d", farmID)
	return many(ctx, r.q, row.ScanRoom, `SELECT `+roomColumns+` FROM room
		WHERE farm_id = ?1 AND id > ?2 AND removed_at IS NULL ORDER BY id LIMIT ?3`, farmID, p.After, limit(p.Limit))
}

func (w writer) AddRoom(ctx context.Context, r farm.Room) (_ int64, err error) {
	defer row.Wrap(&err, "add room %q", r.Name)
	vs, err := row.RoomValues(r)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "room", roomValues+", farm_id, created_at", "",
		append(vs, r.FarmID, row.Instant(r.CreatedAt)))
}

func (w writer) UpdateRoom(ctx context.Context, r farm.Room) (err error) {
	defer row.Wrap(&err, "update room %d", r.ID)
	vs, err := row.RoomValues(r)
	if err != nil {
		return err
	}
	return w.update(ctx, "room", roomValues, r.FarmID, r.ID, r.Version, vs)
}

func (r reader) Lot(ctx context.Context, farmID, id int64) (_ farm.Lot, err error) {
	defer row.Wrap(&err, "lot %d", id)
	return one(ctx, r.q, row.ScanLot, `SELECT `+lotColumns+` FROM lot WHERE farm_id = ?1 AND id = ?2`, farmID, id)
}

func (r reader) Lots(ctx context.Context, farmID int64, p store.Page) (_ []farm.Lot, err error) {
	defer row.Wrap(&err, "lots of farm %d", farmID)
	return many(ctx, r.q, row.ScanLot, `SELECT `+lotColumns+` FROM lot
		WHERE farm_id = ?1 AND id > ?2 AND ended_at IS NULL ORDER BY id LIMIT ?3`, farmID, p.After, limit(p.Limit))
}

func (w writer) AddLot(ctx context.Context, l farm.Lot) (_ int64, err error) {
	defer row.Wrap(&err, "add lot of %s", l.Crop)
	vs, err := row.LotValues(l)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "lot", lotValues+", farm_id, created_at", "",
		append(vs, l.FarmID, row.Instant(l.CreatedAt)))
}

func (w writer) UpdateLot(ctx context.Context, l farm.Lot) (err error) {
	defer row.Wrap(&err, "update lot %d", l.ID)
	vs, err := row.LotValues(l)
	if err != nil {
		return err
	}
	return w.update(ctx, "lot", lotValues, l.FarmID, l.ID, l.Version, vs)
}
