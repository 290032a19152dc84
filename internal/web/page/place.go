package page

import (
	"errors"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// places are the fields of a farm with their zones and forecast cells.
type places struct {
	v      *visit
	fields map[int64]store.Field
	order  []int64
	cells  map[int64]store.Cell
	at     map[int64]farm.Place // by field
}

func (v *visit) places() (*places, error) {
	p := &places{v: v, fields: map[int64]store.Field{}, cells: map[int64]store.Cell{}, at: map[int64]farm.Place{}}
	fields, err := v.books().Fields(v.ctx(), v.farm.ID, store.Page{})
	if err != nil {
		return p, err
	}
	for _, f := range fields {
		p.order = append(p.order, f.ID)
		if err := p.take(f); err != nil {
			return p, err
		}
	}
	return p, nil
}

func (p *places) take(f store.Field) error {
	p.fields[f.ID], p.at[f.ID] = f, farm.PlaceOf(f.Field, unit.None[farm.Point]())
	if f.CellID == 0 {
		return nil
	}
	if _, ok := p.cells[f.CellID]; !ok {
		c, err := p.v.books().Cell(p.v.ctx(), f.CellID)
		if errors.Is(err, store.ErrNotFound) {
			return nil
		}
		if err != nil {
			return err
		}
		p.cells[f.CellID] = c
	}
	p.at[f.ID] = f.In(p.cells[f.CellID])
	return nil
}

// field of a bed; one that has ended may lie in a field that was removed.
func (p *places) field(id int64) (store.Field, error) {
	if f, ok := p.fields[id]; ok {
		return f, nil
	}
	f, err := p.v.books().Field(p.v.ctx(), p.v.farm.ID, id)
	if err != nil {
		return f, fmt.Errorf("field %d: %w", id, err)
	}
	return f, p.take(f)
}

// zone of a field; of none the farm's.
func (p *places) zone(fieldID int64) *time.Location {
	if at, ok := p.at[fieldID]; ok {
		return at.Zone
	}
	return p.v.speaker.Zone
}

func (p *places) today(fieldID int64) farm.Day { return farm.DayOf(p.v.now, p.zone(fieldID)) }

// choices of fields for a form.
func (p *places) choices() []Choice {
	out := make([]Choice, 0, len(p.order))
	for _, id := range p.order {
		out = append(out, Choice{fmt.Sprint(id), p.fields[id].Name})
	}
	return out
}

// cropName is a crop in the reader's language, with its variety.
func (v *visit) cropName(key, variety string) string {
	name := key
	if c, err := v.Commands.Catalogue.Find(key); err == nil {
		name = c.Title(v.speaker.Language)
	}
	if variety != "" {
		name += ", " + variety
	}
	return name
}
