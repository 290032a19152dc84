package row

import "winterstand/internal/farm"

// RoomValues are name, kind, temperature_c, humidity, capacity_kg, removed_at.
func RoomValues(r farm.Room) ([]any, error) {
	return values(text("name", r.Name), text("kind", r.Kind), number("temperature_c", r.Temperature),
		maybeNumber("humidity", r.Humidity), maybeNumber("capacity_kg", r.CapacityKg),
		maybeInstant(r.RemovedAt))
}

// ScanRoom reads id, farm_id, the columns of RoomValues, created_at, version.
func ScanRoom(scan Scan) (r farm.Room, err error) {
	err = scan(&r.ID, &r.FarmID, &r.Name, &r.Kind, &r.Temperature, maybeOf(&r.Humidity),
		maybeOf(&r.CapacityKg), maybeAt{&r.RemovedAt}, instant{&r.CreatedAt}, &r.Version)
	return r, err
}

// LotValues are room_id, crop, variety, kg, harvested_at, container, cured_at,
// from_bed_id, ended_at.
func LotValues(l farm.Lot) ([]any, error) {
	return values(l.RoomID, text("crop", l.Crop), text("variety", l.Variety), number("kg", l.Kg),
		Instant(l.HarvestedAt), text("container", l.Container), maybeInstant(l.CuredAt),
		Reference(l.FromBedID), maybeInstant(l.EndedAt))
}

// ScanLot reads id, farm_id, the columns of LotValues, created_at, version.
func ScanLot(scan Scan) (l farm.Lot, err error) {
	err = scan(&l.ID, &l.FarmID, &l.RoomID, &l.Crop, &l.Variety, &l.Kg, instant{&l.HarvestedAt},
		&l.Container, maybeAt{&l.CuredAt}, reference{&l.FromBedID}, maybeAt{&l.EndedAt},
		instant{&l.CreatedAt}, &l.Version)
	return l, err
}
