package store

import (
	"context"

	"winterstand/internal/farm"
)

// FieldReader finds fields and the beds in them.
type FieldReader interface {
	Field(ctx context.Context, farmID, id int64) (Field, error)
	Fields(ctx context.Context, farmID int64, page Page) ([]Field, error)
	// UnplacedFields have no cell yet.
	UnplacedFields(ctx context.Context) ([]Field, error)
	FieldsOfCell(ctx context.Context, cellID int64) ([]Field, error)
	Bed(ctx context.Context, farmID, id int64) (farm.Bed, error)
	Beds(ctx context.Context, farmID int64, f BedFilter) ([]farm.Bed, error)
	// BedsOfCell are the standing beds of all fields of a cell, whatever the farm.
	BedsOfCell(ctx context.Context, cellID int64) ([]farm.Bed, error)
}

// FieldWriter changes them.
type FieldWriter interface {
	AddField(ctx context.Context, f farm.Field) (int64, error)
	UpdateField(ctx context.Context, f farm.Field) error
	PlaceField(ctx context.Context, fieldID, cellID int64) error
	AddBed(ctx context.Context, b farm.Bed) (int64, error)
	UpdateBed(ctx context.Context, b farm.Bed) error
}

// BedFilter narrows Beds.
type BedFilter struct {
	Page
	FieldID int64 // 0: all
	Cleared bool  // cleared ones too
}

// Field is a field with the cell whose forecast and history it shares; 0: not yet.
type Field struct {
	farm.Field
	CellID int64
}
