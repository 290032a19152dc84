package commands

import (
	"context"
	"strconv"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// names finds fields and rooms by what people call them.
type names struct {
	fields, rooms map[string][]int64
}

func (d Service) names(ctx context.Context, farmID int64) (names, error) {
	n := names{map[string][]int64{}, map[string][]int64{}}
	fields, err := d.Books().Fields(ctx, farmID, store.Page{})
	if err != nil {
		return n, err
	}
	for _, f := range fields {
		n.fields[f.Name] = append(n.fields[f.Name], f.ID)
	}
	rooms, err := d.Books().Rooms(ctx, farmID, store.Page{})
	for _, r := range rooms {
		n.rooms[r.Name] = append(n.rooms[r.Name], r.ID)
	}
	return n, err
}

// find reads an entry's number, or its name where there is no number.
func find(c *check, r row, column string, byName map[string][]int64) Optional[int64] {
	name, named := r.cells[column]
	if _, numbered := r.cells[column+"_id"]; numbered || !named {
		return r.id(c, column+"_id")
	}
	switch ids := byName[name]; len(ids) {
	case 1:
		return Set(ids[0])
	case 0:
		c.bad(column, "none_called_"+column, "name", name)
	default:
		c.bad(column, "called_twice", "n", len(ids), "name", name, "column", column+"_id")
	}
	return Optional[int64]{}
}

func (n names) bed(c *check, r row) BedInput {
	in := BedInput{
		FieldID: find(c, r, "field", n.fields), Name: r.text("name"), Crop: r.text("crop"),
		Variety: r.text("variety"), Purpose: r.text("purpose"), SownOn: r.text("sown_on"),
		StandingKg: r.number(c, "standing_kg"), PricePerKg: r.number(c, "price_per_kg"),
		LiftKgPerHour: r.number(c, "lift_kg_per_hour"), CostLoss: r.number(c, "cost_loss"),
		MulchCm: r.number(c, "mulch_cm"), ToleranceShift: r.number(c, "tolerance_shift_k"),
	}
	if kind, ok := r.cells["cover"]; ok {
		in.Covers = Set([]farm.Cover{{Kind: kind, On: farm.Day(r.cells["cover_on"]), Off: farm.Day(r.cells["cover_off"])}})
	}
	return in
}

func (n names) reading(c *check, r row) ReadingInput {
	return ReadingInput{
		FieldID: find(c, r, "field", n.fields), At: r.instant(c, "at"), Quantity: r.text("quantity"),
		DepthCm: r.number(c, "depth_cm"), Value: r.number(c, "value"),
	}
}

func (n names) lot(c *check, r row) LotInput {
	return LotInput{
		RoomID: find(c, r, "room", n.rooms), Crop: r.text("crop"), Variety: r.text("variety"),
		Kg: r.number(c, "kg"), HarvestedAt: r.instant(c, "harvested_at"), Container: r.text("container"),
		CuredAt: r.instant(c, "cured_at"), FromBedID: r.id(c, "from_bed_id"),
	}
}

func (r row) text(column string) Optional[string] {
	if v, ok := r.cells[column]; ok {
		return Set(v)
	}
	return Optional[string]{}
}

func (r row) number(c *check, column string) Optional[float64] {
	cell, ok := r.cells[column]
	if !ok {
		return Optional[float64]{}
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		c.bad(column, "cell_number", "cell", cell)
		return Optional[float64]{}
	}
	return Set(v)
}

func (r row) id(c *check, column string) Optional[int64] {
	cell, ok := r.cells[column]
	if !ok {
		return Optional[int64]{}
	}
	v, err := strconv.ParseInt(cell, 10, 64)
	if err != nil {
		c.bad(column, "cell_id", "cell", cell)
		return Optional[int64]{}
	}
	return Set(v)
}

func (r row) instant(c *check, column string) Optional[time.Time] {
	cell, ok := r.cells[column]
	if !ok {
		return Optional[time.Time]{}
	}
	t, err := time.Parse(time.RFC3339, cell)
	if err != nil {
		c.bad(column, "cell_time", "cell", cell)
		return Optional[time.Time]{}
	}
	return Set(t)
}
