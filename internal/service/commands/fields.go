package commands

import (
	"context"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// FieldInput is a field as it is handed in.
type FieldInput struct {
	Name      Optional[string]  `json:"name,omitzero" doc:"What people call the field" example:"North field"`
	Latitude  Optional[float64] `json:"latitude,omitzero" doc:"Degrees north, WGS 84" example:"46.5"`
	Longitude Optional[float64] `json:"longitude,omitzero" doc:"Degrees east, WGS 84; west is negative" example:"-92.1"`
	Elevation Optional[float64] `json:"elevation_m,omitzero" doc:"Metres above the sea; left out: the forecast's own" example:"300"`
	Soil      Optional[string]  `json:"soil,omitzero" doc:"Texture of the soil; left out: loam"`
	LowSpot   Optional[float64] `json:"low_spot_k,omitzero" doc:"How much colder its low nights run than the forecast, K" example:"1.5"`
	TimeZone  Optional[string]  `json:"time_zone,omitzero" doc:"IANA time zone; left out: that of its place" example:"America/Chicago"`
}

func applyField(c *check, in FieldInput, f *farm.Field) {
	accept(c, "name", in.Name, aName, &f.Name, strings.TrimSpace)
	accept(c, "latitude", in.Latitude, within("field.latitude"), &f.Latitude, same[float64])
	accept(c, "longitude", in.Longitude, within("field.longitude"), &f.Longitude, same[float64])
	acceptMaybe(c, "elevation_m", in.Elevation, within("field.elevation_m"), &f.Elevation, same[float64])
	acceptOr(c, "soil", in.Soil, oneOf("field.soil"), &f.Soil, same[string], farm.DefaultSoil)
	acceptOr(c, "low_spot_k", in.LowSpot, within("field.low_spot_k"), &f.LowSpot, kelvins, unit.Kelvins(0))
	acceptOr(c, "time_zone", in.TimeZone, aZone, &f.TimeZone, same[string], "")
}

// AddField makes a field and asks for its place among the forecasts. Errors: *Invalid.
func (d Service) AddField(ctx context.Context, farmID int64, in FieldInput) (f store.Field, err error) {
	var c check
	made := farm.Field{FarmID: farmID, Soil: farm.DefaultSoil, CreatedAt: d.now()}
	c.needs("field", in)
	applyField(&c, in, &made)
	if err := c.err(); err != nil {
		return f, err
	}
	err = d.write(ctx, func(w store.Writer) error {
		id, err := w.AddField(ctx, made)
		if err != nil {
			return err
		}
		if f, err = w.Field(ctx, farmID, id); err != nil {
			return err
		}
		return w.Enqueue(ctx, store.Job{FieldID: id})
	})
	return f, err
}

// ChangeField changes the members that were given. Errors: *Invalid, *Refused
// (removed), store.ErrNotFound, store.ErrChanged.
func (d Service) ChangeField(ctx context.Context, farmID, id int64, seen Seen, in FieldInput) (f store.Field, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		if f, err = w.Field(ctx, farmID, id); err != nil {
			return err
		}
		if err = unchanged(seen, f.Version); err != nil {
			return err
		}
		if f.RemovedAt.Known() {
			return refuse("field_gone", "id", id)
		}
		return d.updateField(ctx, w, &f, in)
	})
	return f, err
}

func (d Service) updateField(ctx context.Context, w store.Writer, f *store.Field, in FieldInput) error {
	var c check
	applyField(&c, in, &f.Field)
	if err := c.err(); err != nil {
		return err
	}
	if err := w.UpdateField(ctx, f.Field); err != nil {
		return err
	}
	f.Version++
	if in.Latitude.Touched() || in.Longitude.Touched() || in.Elevation.Touched() {
		// Another place: another forecast point, and another history.
		if err := w.PlaceField(ctx, f.ID, 0); err != nil {
			return err
		}
		return w.Enqueue(ctx, store.Job{FieldID: f.ID})
	}
	return judgeField(ctx, w, *f)
}

// RemoveField takes a field off the lists; removing it twice is harmless.
// Errors: *Refused while a bed stands in it, store.ErrNotFound, store.ErrChanged.
func (d Service) RemoveField(ctx context.Context, farmID, id int64, seen Seen) error {
	return d.write(ctx, func(w store.Writer) error {
		f, err := w.Field(ctx, farmID, id)
		if err != nil || f.RemovedAt.Known() {
			return err
		}
		if err := unchanged(seen, f.Version); err != nil {
			return err
		}
		beds, err := w.Beds(ctx, farmID, store.BedFilter{FieldID: id})
		if err != nil {
			return err
		}
		if len(beds) > 0 {
			return refuse("field", "n", len(beds))
		}
		f.RemovedAt = unit.Some(d.now())
		return w.UpdateField(ctx, f.Field)
	})
}
