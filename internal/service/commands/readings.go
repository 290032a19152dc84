package commands

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// ReadingInput is what a thermometer or a ruler said, as handed in.
type ReadingInput struct {
	FieldID  Optional[int64]     `json:"field_id,omitzero" doc:"The field it was read in"`
	At       Optional[time.Time] `json:"at,omitzero" doc:"When it was read, with its zone. For air_min_c any time of the morning after" example:"2026-11-15T07:00:00-06:00"`
	Quantity Optional[string]    `json:"quantity,omitzero" doc:"What was read, in the unit of its name"`
	DepthCm  Optional[float64]   `json:"depth_cm,omitzero" doc:"Depth below the ground, for soil_c only, cm" example:"5"`
	Value    Optional[float64]   `json:"value,omitzero" doc:"The value in the unit of the quantity's name" example:"-6.7"`
}

// MaxReadings is how many readings may be handed in at once.
const MaxReadings = 5000

// AddReadings enters readings, all or none. Errors: *Invalid, its fields named
// "[3].value" when there are several.
func (d Service) AddReadings(ctx context.Context, farmID int64, ins []ReadingInput) (out []farm.Reading, err error) {
	if len(ins) == 0 || len(ins) > MaxReadings {
		return nil, wrong("readings", "readings_count", "n", len(ins), "most", MaxReadings)
	}
	err = d.write(ctx, func(w store.Writer) error {
		var all check
		book := d.readingBook(w.Reader, farmID)
		for i, in := range ins {
			var c check
			r, err := book.reading(ctx, &c, in)
			if err != nil {
				return err
			}
			all.problems = append(all.problems, numbered(c.problems, i, len(ins))...)
			out = append(out, r)
		}
		if err := all.err(); err != nil {
			return err
		}
		return book.enter(ctx, w, out)
	})
	return out, err
}

func numbered(problems []Problem, i, of int) []Problem {
	if of > 1 {
		for k := range problems {
			problems[k].Field = fmt.Sprintf("readings[%d].%s", i, problems[k].Field)
		}
	}
	return problems
}

// readingBook looks each field up once.
type readingBook struct {
	farmID int64
	books  store.Reader
	now    time.Time
	fields map[int64]store.Field
}

func (d Service) readingBook(r store.Reader, farmID int64) readingBook {
	return readingBook{farmID, r, d.now(), map[int64]store.Field{}}
}

func (b readingBook) field(ctx context.Context, id int64) (store.Field, error) {
	if f, ok := b.fields[id]; ok {
		return f, nil
	}
	f, err := b.books.Field(ctx, b.farmID, id)
	if err == nil {
		b.fields[id] = f
	}
	return f, err
}

func (b readingBook) reading(ctx context.Context, c *check, in ReadingInput) (farm.Reading, error) {
	r := farm.Reading{FarmID: b.farmID}
	c.needs("reading", in)
	accept(c, "at", in.At, aPast(b.now), &r.At, second)
	accept(c, "quantity", in.Quantity, oneOf("reading.quantity"), &r.Quantity, same[string])
	if r.Quantity != "" {
		accept(c, "value", in.Value, within("reading."+r.Quantity), &r.Value, same[float64])
	}
	acceptMaybe(c, "depth_cm", in.DepthCm, within("reading.depth_cm"), &r.DepthCm, same[float64])
	c.depth(r)
	accept(c, "field_id", in.FieldID, anID, &r.FieldID, same[int64])
	if r.FieldID == 0 {
		return r, nil
	}
	_, err := b.field(ctx, r.FieldID)
	return r, c.known("field_id", "field", r.FieldID, err)
}

func (c *check) depth(r farm.Reading) {
	if r.Quantity == farm.ReadSoil && !r.DepthCm.Known() {
		c.bad("depth_cm", "depth_missing")
	}
	if r.Quantity != "" && r.Quantity != farm.ReadSoil && r.DepthCm.Known() {
		c.bad("depth_cm", "depth_not_soil")
	}
}

// enter writes readings and asks for new verdicts of their fields.
func (b readingBook) enter(ctx context.Context, w store.Writer, rs []farm.Reading) error {
	ids, err := w.AddReadings(ctx, rs)
	if err != nil {
		return err
	}
	if len(ids) != len(rs) {
		return fmt.Errorf("enter %d readings: the store gave %d numbers", len(rs), len(ids))
	}
	touched := map[int64]bool{}
	for i := range rs {
		rs[i].ID = ids[i]
		if touched[rs[i].FieldID] {
			continue
		}
		touched[rs[i].FieldID] = true
		if err := judgeField(ctx, w, b.fields[rs[i].FieldID]); err != nil {
			return err
		}
	}
	return nil
}
