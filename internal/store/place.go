package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Places is what places are read from.
type Places interface {
	Cell(ctx context.Context, id int64) (Cell, error)
	Fields(ctx context.Context, farmID int64, page Page) ([]Field, error)
}

// Point is what the cell tells of the places it stands for.
func (c Cell) Point() farm.Point {
	return farm.Point{Latitude: c.Latitude, Longitude: c.Longitude, Elevation: c.Elevation, TimeZone: c.TimeZone}
}

// In is the place of the field in its cell.
func (f Field) In(c Cell) farm.Place { return farm.PlaceOf(f.Field, unit.Some(c.Point())) }

// PlaceOf reads the place of a field.
func PlaceOf(ctx context.Context, r Places, f Field) (farm.Place, error) {
	if f.CellID == 0 {
		return farm.PlaceOf(f.Field, unit.None[farm.Point]()), nil
	}
	c, err := r.Cell(ctx, f.CellID)
	if errors.Is(err, ErrNotFound) {
		return farm.PlaceOf(f.Field, unit.None[farm.Point]()), nil
	}
	if err != nil {
		return farm.Place{}, fmt.Errorf("place of field %d: %w", f.ID, err)
	}
	return f.In(c), nil
}

// ZoneOf reads the zone of what is the whole farm's.
func ZoneOf(ctx context.Context, r Places, f farm.Farm) (*time.Location, error) {
	if z, err := farm.ParseZone(f.TimeZone); err == nil {
		return z, nil
	}
	fields, err := r.Fields(ctx, f.ID, Page{Limit: 1})
	if err != nil {
		return nil, fmt.Errorf("zone of farm %d: %w", f.ID, err)
	}
	if len(fields) == 0 {
		return f.Zone(), nil
	}
	first, err := PlaceOf(ctx, r, fields[0])
	return f.Zone(first), err
}
