package page

import (
	"errors"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// places are the fields of a farm with their zones and forecast cells.
type places struct {
	v      *visit
	fields map[int64]store.Field
	order  []int64
	cells  map[int64]store.Cell
}

func (v *visit) places() (*places, error) {
	p := &places{v: v, fields: map[int64]store.Field{}, cells: map[int64]store.Cell{}}
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
	p.fields[f.ID] = f
	if _, ok := p.cells[f.CellID]; ok || f.CellID == 0 {
		return nil
	}
	c, err := p.v.books().Cell(p.v.ctx(), f.CellID)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	p.cells[f.CellID] = c
	return err
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

// zone of a field: its own, else its forecast's, else the farm's, as in the
// messages.
func (p *places) zone(fieldID int64) *time.Location {
	f := p.fields[fieldID]
	return zoneNamed(f.TimeZone, p.cells[f.CellID].TimeZone, p.v.farm.TimeZone)
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
	if c, err := v.Desk.Catalogue.Find(key); err == nil {
		name = c.Title(v.speaker.Language)
	}
	if variety != "" {
		name += ", " + variety
	}
	return name
}
