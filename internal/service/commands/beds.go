package commands

import (
	"context"
	"fmt"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// BedInput is a bed as it is handed in.
type BedInput struct {
	FieldID        Optional[int64]        `json:"field_id,omitzero" doc:"The field it lies in; a bed does not move"`
	Name           Optional[string]       `json:"name,omitzero" doc:"What people call the bed" example:"B4"`
	Crop           Optional[string]       `json:"crop,omitzero" doc:"A key of the catalogue, see /v1/crops" example:"chard"`
	Variety        Optional[string]       `json:"variety,omitzero" doc:"Variety, free text"`
	Purpose        Optional[string]       `json:"purpose,omitzero" doc:"What it stands for; sets the default of cost_loss. Left out: fresh"`
	SownOn         Optional[string]       `json:"sown_on,omitzero" format:"date" doc:"Day of sowing or planting, today at the latest" example:"2026-07-20"`
	StandingKg     Optional[float64]      `json:"standing_kg,omitzero" doc:"What is left in the ground, kg" example:"80"`
	PricePerKg     Optional[float64]      `json:"price_per_kg,omitzero" doc:"In the farm's currency" example:"6.5"`
	LiftKgPerHour  Optional[float64]      `json:"lift_kg_per_hour,omitzero" doc:"What one person harvests in an hour, kg" example:"12"`
	CostLoss       Optional[float64]      `json:"cost_loss,omitzero" doc:"Cost of an early harvest over the value lost: act above this likelihood. Left out: by purpose" example:"0.2"`
	Covers         Optional[[]farm.Cover] `json:"covers,omitzero" doc:"Covers with the day they went on and, where they did, came off"`
	MulchCm        Optional[float64]      `json:"mulch_cm,omitzero" doc:"Straw on the bed now, cm" example:"0"`
	ToleranceShift Optional[float64]      `json:"tolerance_shift_k,omitzero" doc:"The grower's own shift of what the crop stands, K; negative is hardier" example:"-1"`
}

func (d Service) applyBed(c *check, in BedInput, b *farm.Bed) {
	accept(c, "name", in.Name, aName, &b.Name, strings.TrimSpace)
	accept(c, "crop", in.Crop, d.aCrop, &b.Crop, d.cropKey)
	acceptOr(c, "variety", in.Variety, aWord, &b.Variety, strings.TrimSpace, "")
	acceptOr(c, "purpose", in.Purpose, oneOf("bed.purpose"), &b.Purpose, func(s string) farm.Purpose { return farm.Purpose(s) }, farm.Fresh)
	acceptMaybe(c, "standing_kg", in.StandingKg, within("bed.standing_kg"), &b.StandingKg, same[float64])
	acceptMaybe(c, "price_per_kg", in.PricePerKg, within("bed.price_per_kg"), &b.PricePerKg, same[float64])
	acceptMaybe(c, "lift_kg_per_hour", in.LiftKgPerHour, within("bed.lift_kg_per_hour"), &b.LiftKgPerHour, same[float64])
	acceptMaybe(c, "cost_loss", in.CostLoss, within("bed.cost_loss"), &b.CostLossSet, same[float64])
	acceptMaybe(c, "tolerance_shift_k", in.ToleranceShift, within("bed.tolerance_shift_k"), &b.ToleranceSet, kelvins)
	if in.Covers.Touched() {
		b.Covers, _ = in.Covers.Get()
		c.covers(b.Covers)
	}
}

// sown takes the day of sowing: today at the latest, for what is entered stands.
// Taken later than the rest, because only the bed's field knows what day it is.
func (c *check) sown(in Optional[string], b *farm.Bed, today farm.Day) {
	acceptMaybe(c, "sown_on", in, func(s string) phrase.Line {
		if wrong := aDay(s); !wrong.None() {
			return wrong
		}
		if farm.Day(s) > today {
			return reason("sown_ahead", "today", string(today))
		}
		return fine
	}, &b.SownOn, day)
}

func (c *check) covers(covers []farm.Cover) {
	if len(covers) > maxRows {
		c.bad("covers", "too_many", "n", len(covers), "most", maxRows)
	}
	for i, cover := range covers {
		at := func(member string) string { return fmt.Sprintf("covers[%d].%s", i, member) }
		c.test(at("kind"), oneOf("cover.kind")(cover.Kind))
		c.test(at("on"), aDay(string(cover.On)))
		if cover.Off == "" {
			continue
		}
		c.test(at("off"), aDay(string(cover.Off)))
		if aDay(string(cover.On)).None() && aDay(string(cover.Off)).None() && cover.Off <= cover.On {
			c.bad(at("off"), "cover_order")
		}
	}
}

// mulch is laid from today on; a new bed has had it since before anything is
// known of it.
func (c *check) mulch(in Optional[float64], b *farm.Bed, today farm.Day) {
	cm := b.MulchOn(today)
	before := cm
	acceptOr(c, "mulch_cm", in, within("bed.mulch_cm"), &cm, same[float64], 0)
	if cm == before {
		return
	}
	if b.ID == 0 {
		today = ""
	}
	kept := b.Mulches[:0:0]
	for _, m := range b.Mulches {
		if m.On < today {
			kept = append(kept, m)
		}
	}
	b.Mulches = append(kept, farm.Mulch{Cm: cm, On: today})
}

// lastDay is today of a bed whose field is not known, which is refused anyway.
const lastDay = farm.Day("9999-12-31")

// newBed is a bed as it would be entered; what is wrong is kept in c.
func (d Service) newBed(c *check, farmID int64, in BedInput, find placeFinder) (farm.Bed, place, error) {
	b := farm.Bed{FarmID: farmID, Purpose: farm.Fresh, CreatedAt: d.now()}
	c.needs("bed", in)
	d.applyBed(c, in, &b)
	c.mulch(in.MulchCm, &b, "")
	accept(c, "field_id", in.FieldID, anID, &b.FieldID, same[int64])
	if b.FieldID == 0 {
		c.sown(in.SownOn, &b, lastDay)
		return b, place{}, nil
	}
	p, err := find(b.FieldID)
	today := lastDay
	if err == nil {
		today = p.today(d.now())
	}
	c.sown(in.SownOn, &b, today)
	if err == nil && p.RemovedAt.Known() {
		c.bad("field_id", "field_gone", "id", b.FieldID)
	}
	return b, p, c.known("field_id", "field", b.FieldID, err)
}

func anID(id int64) phrase.Line {
	if id <= 0 {
		return reason("id")
	}
	return fine
}

// AddBed makes a bed and asks for its first verdict. Errors: *Invalid.
func (d Service) AddBed(ctx context.Context, farmID int64, in BedInput) (b farm.Bed, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		var c check
		made, p, err := d.newBed(&c, farmID, in, d.placeFinder(ctx, w.Reader, farmID))
		if err != nil {
			return err
		}
		if err := c.err(); err != nil {
			return err
		}
		id, err := w.AddBed(ctx, made)
		if err != nil {
			return err
		}
		if b, err = w.Bed(ctx, farmID, id); err != nil {
			return err
		}
		return judgeField(ctx, w, p.Field)
	})
	return b, err
}

// ChangeBed changes the members that were given. Errors: *Invalid, *Refused
// (cleared), store.ErrNotFound, store.ErrChanged.
func (d Service) ChangeBed(ctx context.Context, farmID, id int64, seen Seen, in BedInput) (b farm.Bed, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		if b, err = w.Bed(ctx, farmID, id); err != nil {
			return err
		}
		if err = unchanged(seen, b.Version); err != nil {
			return err
		}
		if b.ClearedAt.Known() {
			return refuse("bed_gone", "id", id)
		}
		return d.updateBed(ctx, w, &b, in)
	})
	return b, err
}

func (d Service) updateBed(ctx context.Context, w store.Writer, b *farm.Bed, in BedInput) error {
	p, err := d.place(ctx, w.Reader, b.FarmID, b.FieldID)
	if err != nil {
		return err
	}
	var c check
	if id, ok := in.FieldID.Get(); in.FieldID.Touched() && (!ok || id != b.FieldID) {
		c.bad("field_id", "bed_moves")
	}
	d.applyBed(&c, in, b)
	c.mulch(in.MulchCm, b, p.today(d.now()))
	c.sown(in.SownOn, b, p.today(d.now()))
	if err := c.err(); err != nil {
		return err
	}
	return saveBed(ctx, w, b, p)
}

// saveBed writes a changed bed and asks for a verdict.
func saveBed(ctx context.Context, w store.Writer, b *farm.Bed, p place) error {
	if err := w.UpdateBed(ctx, *b); err != nil {
		return err
	}
	b.Version++
	return judgeField(ctx, w, p.Field)
}

// ClearBed ends a bed; its history stays, and ending it twice is harmless.
// Errors: store.ErrNotFound, store.ErrChanged.
func (d Service) ClearBed(ctx context.Context, farmID, id int64, seen Seen) error {
	return d.write(ctx, func(w store.Writer) error {
		b, err := w.Bed(ctx, farmID, id)
		if err != nil || b.ClearedAt.Known() {
			return err
		}
		if err := unchanged(seen, b.Version); err != nil {
			return err
		}
		p, err := d.place(ctx, w.Reader, farmID, b.FieldID)
		if err != nil {
			return err
		}
		clearBed(&b, d.now())
		return saveBed(ctx, w, &b, p)
	})
}

func clearBed(b *farm.Bed, now time.Time) {
	b.ClearedAt = unit.Some(now)
}
