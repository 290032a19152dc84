package commands

import (
	"context"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// DefaultContainer is taken where nobody said: in the open a lot dries fastest,
// so that its life is not overstated. Own default.
const DefaultContainer = "open"

// LotInput is a lot as it is handed in.
type LotInput struct {
	RoomID      Optional[int64]     `json:"room_id,omitzero" doc:"The room it is kept in"`
	Crop        Optional[string]    `json:"crop,omitzero" doc:"A key of the catalogue" example:"carrot"`
	Variety     Optional[string]    `json:"variety,omitzero" doc:"Variety, free text"`
	Kg          Optional[float64]   `json:"kg,omitzero" doc:"What is left of it, kg; 0 ends the lot" example:"120"`
	HarvestedAt Optional[time.Time] `json:"harvested_at,omitzero" doc:"When it was harvested" example:"2026-11-14T15:00:00Z"`
	Container   Optional[string]    `json:"container,omitzero" doc:"What it is kept in; left out: open"`
	CuredAt     Optional[time.Time] `json:"cured_at,omitzero" doc:"When curing was done; left out: not cured"`
	FromBedID   Optional[int64]     `json:"from_bed_id,omitzero" doc:"The bed it came from; what stands there is not changed"`
	EndedAt     Optional[time.Time] `json:"ended_at,omitzero" doc:"When it was sold out, eaten or spoiled; null: still kept"`
}

// applyLot takes the members over and looks up what they name.
func (d Service) applyLot(ctx context.Context, r store.Reader, c *check, in LotInput, l *farm.Lot) error {
	past := aPast(d.now())
	accept(c, "crop", in.Crop, d.aCrop, &l.Crop, d.cropKey)
	acceptOr(c, "variety", in.Variety, aWord, &l.Variety, strings.TrimSpace, "")
	accept(c, "kg", in.Kg, within("lot.kg"), &l.Kg, same[float64])
	accept(c, "harvested_at", in.HarvestedAt, past, &l.HarvestedAt, second)
	acceptOr(c, "container", in.Container, oneOf("lot.container"), &l.Container, same[string], DefaultContainer)
	acceptMaybe(c, "cured_at", in.CuredAt, past, &l.CuredAt, second)
	acceptMaybe(c, "ended_at", in.EndedAt, past, &l.EndedAt, second)
	if cured, ok := l.CuredAt.Get(); ok && cured.Before(l.HarvestedAt) {
		c.bad("cured_at", "cured_before")
	}
	if err := lotRoom(ctx, r, c, in, l); err != nil {
		return err
	}
	return lotBed(ctx, r, c, in, l)
}

func second(t time.Time) time.Time { return t.UTC().Truncate(time.Second) }

func lotRoom(ctx context.Context, r store.Reader, c *check, in LotInput, l *farm.Lot) error {
	accept(c, "room_id", in.RoomID, anID, &l.RoomID, same[int64])
	if id, ok := in.RoomID.Get(); !ok || id <= 0 {
		return nil
	}
	room, err := r.Room(ctx, l.FarmID, l.RoomID)
	if err == nil && room.RemovedAt.Known() {
		c.bad("room_id", "room_gone", "id", l.RoomID)
	}
	return c.known("room_id", "room", l.RoomID, err)
}

func lotBed(ctx context.Context, r store.Reader, c *check, in LotInput, l *farm.Lot) error {
	acceptOr(c, "from_bed_id", in.FromBedID, anID, &l.FromBedID, same[int64], 0)
	if id, ok := in.FromBedID.Get(); !ok || id <= 0 {
		return nil
	}
	_, err := r.Bed(ctx, l.FarmID, l.FromBedID)
	return c.known("from_bed_id", "bed", l.FromBedID, err)
}

// newLot is a lot as it would be entered; what is wrong is kept in c.
func (d Service) newLot(ctx context.Context, r store.Reader, c *check, farmID int64, in LotInput) (farm.Lot, error) {
	l := farm.Lot{FarmID: farmID, Container: DefaultContainer, CreatedAt: d.now()}
	c.needs("lot", in)
	if kg, ok := in.Kg.Get(); ok && kg == 0 {
		c.bad("kg", "some_kg")
	}
	if in.EndedAt.Touched() {
		c.bad("ended_at", "not_when_new")
	}
	return l, d.applyLot(ctx, r, c, in, &l)
}

// AddLot makes a lot. Errors: *Invalid.
func (d Service) AddLot(ctx context.Context, farmID int64, in LotInput) (l farm.Lot, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		var c check
		made, err := d.newLot(ctx, w.Reader, &c, farmID, in)
		if err != nil {
			return err
		}
		if err := c.err(); err != nil {
			return err
		}
		id, err := w.AddLot(ctx, made)
		if err != nil {
			return err
		}
		if l, err = w.Lot(ctx, farmID, id); err != nil {
			return err
		}
		return d.filled(ctx, w, farmID, l.RoomID)
	})
	return l, err
}

// ChangeLot changes the members that were given; nothing left ends the lot.
// Errors: *Invalid, store.ErrNotFound, store.ErrChanged.
func (d Service) ChangeLot(ctx context.Context, farmID, id int64, seen Seen, in LotInput) (l farm.Lot, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		if l, err = w.Lot(ctx, farmID, id); err != nil {
			return err
		}
		if err = unchanged(seen, l.Version); err != nil {
			return err
		}
		before := l
		var c check
		if err = d.applyLot(ctx, w.Reader, &c, in, &l); err != nil {
			return err
		}
		if l.Kg == 0 && !l.EndedAt.Known() {
			l.EndedAt = unit.Some(d.now())
		}
		if err = c.err(); err != nil {
			return err
		}
		if err = w.UpdateLot(ctx, l); err != nil {
			return err
		}
		l.Version++
		if err = d.moved(ctx, w, before, l); err != nil {
			return err
		}
		return d.filled(ctx, w, farmID, before.RoomID, l.RoomID)
	})
	return l, err
}

// EndLot says that nothing is left of a lot; ending it twice is harmless.
// Errors: store.ErrNotFound, store.ErrChanged.
func (d Service) EndLot(ctx context.Context, farmID, id int64, seen Seen) error {
	return d.write(ctx, func(w store.Writer) error {
		l, err := w.Lot(ctx, farmID, id)
		if err != nil || l.EndedAt.Known() {
			return err
		}
		if err := unchanged(seen, l.Version); err != nil {
			return err
		}
		l.EndedAt = unit.Some(d.now())
		if err := w.UpdateLot(ctx, l); err != nil {
			return err
		}
		return d.filled(ctx, w, farmID, l.RoomID)
	})
}
