package row

import (
	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// FieldValues are name, latitude, longitude, elevation_m, soil, low_spot_k,
// time_zone, removed_at.
func FieldValues(f farm.Field) ([]any, error) {
	return values(
		text("name", f.Name), number("latitude", f.Latitude), number("longitude", f.Longitude),
		maybeNumber("elevation_m", f.Elevation), text("soil", f.Soil), number("low_spot_k", f.LowSpot),
		text("time_zone", f.TimeZone), maybeInstant(f.RemovedAt),
	)
}

// ScanField reads id, farm_id, cell_id, the columns of FieldValues, created_at, version.
func ScanField(scan Scan) (f store.Field, err error) {
	err = scan(&f.ID, &f.FarmID, reference{&f.CellID}, &f.Name, &f.Latitude, &f.Longitude,
		maybeOf(&f.Elevation), &f.Soil, &f.LowSpot, &f.TimeZone, maybeAt{&f.RemovedAt},
		instant{&f.CreatedAt}, &f.Version)
	return f, err
}

// BedValues are field_id, name, crop, variety, purpose, sown_on, standing_kg,
// price_per_kg, lift_kg_per_hour, cost_loss, tolerance_shift_k, covers,
// mulches, cleared_at, quiet_until.
func BedValues(b farm.Bed) ([]any, error) {
	return values(
		b.FieldID, text("name", b.Name), text("crop", b.Crop), text("variety", b.Variety),
		text("purpose", b.Purpose), maybeText("sown_on", b.SownOn),
		maybeNumber("standing_kg", b.StandingKg), maybeNumber("price_per_kg", b.PricePerKg),
		maybeNumber("lift_kg_per_hour", b.LiftKgPerHour), maybeNumber("cost_loss", b.CostLossSet),
		maybeNumber("tolerance_shift_k", b.ToleranceSet), list("covers", b.Covers),
		list("mulches", b.Mulches), maybeInstant(b.ClearedAt), maybeInstant(b.QuietUntil),
	)
}

// ScanBed reads id, farm_id, the columns of BedValues, created_at, version.
func ScanBed(scan Scan) (b farm.Bed, err error) {
	err = scan(&b.ID, &b.FarmID, &b.FieldID, &b.Name, &b.Crop, &b.Variety, &b.Purpose,
		maybeOf(&b.SownOn), maybeOf(&b.StandingKg), maybeOf(&b.PricePerKg),
		maybeOf(&b.LiftKgPerHour), maybeOf(&b.CostLossSet), maybeOf(&b.ToleranceSet),
		nestedOf(&b.Covers), nestedOf(&b.Mulches), maybeAt{&b.ClearedAt},
		maybeAt{&b.QuietUntil}, instant{&b.CreatedAt}, &b.Version)
	return b, err
}

// ReadingValues are farm_id, field_id, at, quantity, depth_cm, value.
func ReadingValues(r farm.Reading) ([]any, error) {
	return values(r.FarmID, r.FieldID, Instant(r.At), text("quantity", r.Quantity),
		maybeNumber("depth_cm", r.DepthCm), number("value", r.Value))
}

// ScanReading reads id and the columns of ReadingValues.
func ScanReading(scan Scan) (r farm.Reading, err error) {
	err = scan(&r.ID, &r.FarmID, &r.FieldID, instant{&r.At}, &r.Quantity, maybeOf(&r.DepthCm), &r.Value)
	return r, err
}

// FindingValues are farm_id, bed_id, night, lost_fraction, note, created_at.
func FindingValues(f farm.Finding) ([]any, error) {
	return values(f.FarmID, f.BedID, text("night", f.Night),
		number("lost_fraction", f.LostFraction), text("note", f.Note), Instant(f.CreatedAt))
}

// ScanFinding reads id and the columns of FindingValues.
func ScanFinding(scan Scan) (f farm.Finding, err error) {
	err = scan(&f.ID, &f.FarmID, &f.BedID, &f.Night, &f.LostFraction, &f.Note, instant{&f.CreatedAt})
	return f, err
}
