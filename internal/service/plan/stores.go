package plan

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Lot is a stored harvest with its clocks.
type Lot struct {
	farm.Lot
	Titles   map[string]string // the crop's names by language
	Cautions []crop.Caution    // that the crop declares
	State    keeping.State
	UseBy    keeping.UseBy
	Cured    bool         // needs no curing, or has had it
	Cures    bool         // is a crop that must cure
	Why      keeping.Code // its life cannot be told because of this; empty: it can

	keeper                 keeping.Keeper
	frostKilled, spoilable bool
}

// Life is from harvest to the median end.
func (l Lot) Life() time.Duration { return l.UseBy.P50.Sub(l.HarvestedAt) }

// Room is a store with what lies in it.
type Room struct {
	farm.Room
	Lots     []Lot
	Kg       float64
	FreeKg   unit.Maybe[float64] // missing: its capacity is not known
	Advice   []keeping.Note
	HeatW    float64  // warmth the lots give off, W
	HeatLess []string // crops whose warmth is not known and not in it
}

// Full is the share of the capacity that is taken; missing: no capacity known.
func (r Room) Full() unit.Maybe[float64] {
	if c, ok := r.CapacityKg.Get(); ok && c > 0 {
		return unit.Some(r.Kg / c)
	}
	return unit.None[float64]()
}

// Stores gives every room of a farm with its lots, the clocks run to now.
func (l Reader) Stores(ctx context.Context, farmID int64) ([]Room, error) {
	rooms, err := l.Books.Rooms(ctx, farmID, store.Page{})
	if err != nil {
		return nil, fmt.Errorf("rooms of farm %d: %w", farmID, err)
	}
	lots, err := l.Books.Lots(ctx, farmID, store.Page{})
	if err != nil {
		return nil, fmt.Errorf("lots of farm %d: %w", farmID, err)
	}
	airs := l.airs(ctx, farmID)
	var out []Room
	for _, r := range rooms {
		room := Room{Room: r, Lots: []Lot{}, Advice: []keeping.Note{}}
		for _, x := range lots {
			if x.RoomID != r.ID {
				continue
			}
			lot, err := l.lot(ctx, x, r, airs)
			if err != nil {
				return nil, err
			}
			room.Lots = append(room.Lots, lot)
			room.Kg += x.Kg
		}
		room.measure()
		out = append(out, room)
	}
	return out, nil
}

// measure fills in what follows from the lots.
func (r *Room) measure() {
	if c, ok := r.CapacityKg.Get(); ok {
		r.FreeKg = unit.Some(max(0, c-r.Kg))
	}
	store := keeping.Store{Climate: climate(r.Air(time.Time{})), CapacityKg: r.CapacityKg}
	var lots []keeping.Stored
	for _, x := range r.Lots {
		if x.Why == "" {
			lots = append(lots, keeping.Stored{LotID: x.ID, Kg: x.Kg, Keeper: x.keeper, State: x.State, FrostKilled: x.frostKilled, Damaged: x.spoilable})
		} else {
			r.HeatLess = append(r.HeatLess, x.Crop)
		}
	}
	// A lot of unknown life still takes room.
	if rest := r.Kg - sum(lots); rest > 0 && store.CapacityKg.Known() {
		c, _ := store.CapacityKg.Get()
		store.CapacityKg = unit.Some(max(0, c-rest))
	}
	if notes := keeping.Advise(store, lots); notes != nil {
		r.Advice = notes
	}
	var unknown []string
	r.HeatW, unknown = keeping.RoomHeat(store, lots)
	r.HeatLess = append(r.HeatLess, unknown...)
	slices.Sort(r.HeatLess)
	r.HeatLess = slices.Compact(r.HeatLess)
}

func sum(lots []keeping.Stored) (kg float64) {
	for _, l := range lots {
		kg += l.Kg
	}
	return kg
}

func climate(a farm.RoomAir) keeping.Climate {
	return keeping.Climate{Kind: a.Kind, Temperature: a.Temperature, Humidity: a.Humidity}
}

// airs gives the past of rooms, each looked up once.
type airs func(roomID int64) ([]farm.RoomAir, error)

func (l Reader) airs(ctx context.Context, farmID int64) airs {
	found := map[int64][]farm.RoomAir{}
	return func(id int64) ([]farm.RoomAir, error) {
		if past, ok := found[id]; ok {
			return past, nil
		}
		room, err := l.Books.Room(ctx, farmID, id) // a removed one is found too
		if err != nil {
			return nil, fmt.Errorf("room %d: %w", id, err)
		}
		past, err := store.RoomPast(ctx, l.Books, room)
		if err == nil {
			found[id] = past
		}
		return past, err
	}
}

// lot runs the clocks of one lot.
func (l Reader) lot(ctx context.Context, x farm.Lot, room farm.Room, past airs) (Lot, error) {
	out := Lot{Lot: x}
	book, err := l.table()
	if err != nil {
		return out, err
	}
	family := ""
	if c, err := l.Catalogue.Find(x.Crop); err == nil {
		family, out.Titles, out.Cautions = c.Family, c.Titles, c.Cautions
	}
	if out.keeper, err = book.Keeper(x.Crop, family, x.Container); err != nil {
		out.Why = keeping.NoFigures // told, not guessed
		return out, nil
	}
	spells, err := l.spells(ctx, x, past)
	if err != nil {
		return out, err
	}
	if err := l.origin(ctx, &out); err != nil {
		return out, err
	}
	now := l.now()
	if out.State, err = out.keeper.Follow(x.HarvestedAt, x.CuredAt, spells, now); err != nil {
		return out, fmt.Errorf("lot %d: %w", x.ID, err)
	}
	if out.UseBy, err = out.keeper.UseBy(out.State, now, climate(room.Air(now))); err != nil {
		return out, fmt.Errorf("lot %d: %w", x.ID, err)
	}
	out.Cures, out.Cured = out.keeper.Cure != nil, out.keeper.IsCured(out.State)
	return out, nil
}

// spells is the air that a lot has had: that of each room while it lay there.
func (l Reader) spells(ctx context.Context, x farm.Lot, past airs) ([]keeping.Spell, error) {
	stays, err := store.LotPast(ctx, l.Books, x)
	if err != nil {
		return nil, err
	}
	var out []keeping.Spell
	for i, stay := range stays {
		air, err := past(stay.RoomID)
		if err != nil {
			return nil, err
		}
		end := unit.None[time.Time]()
		if i+1 < len(stays) {
			end = unit.Some(stays[i+1].From)
		}
		out = append(out, during(air, stay.From, end)...)
	}
	return out, nil
}

// during cuts a room's past to one stay.
func during(air []farm.RoomAir, from time.Time, until unit.Maybe[time.Time]) []keeping.Spell {
	var out []keeping.Spell
	for i, a := range air {
		if end, ok := until.Get(); ok && !a.From.Before(end) && i > 0 {
			break
		}
		if i+1 < len(air) && !air[i+1].From.After(from) {
			continue // another air had come before the lot did
		}
		at := a.From
		if len(out) == 0 {
			at = from
		}
		out = append(out, keeping.Spell{From: at, Climate: climate(a)})
	}
	return out
}

// origin tells whether the bed had been hurt by frost before the lot was
// harvested: by what was found there, or by the model.
func (l Reader) origin(ctx context.Context, x *Lot) error {
	if x.FromBedID == 0 {
		return nil
	}
	found, err := l.Books.Findings(ctx, x.FarmID, x.FromBedID)
	if err != nil {
		return fmt.Errorf("findings of bed %d: %w", x.FromBedID, err)
	}
	for _, f := range found {
		if f.LostFraction > hurtShare && f.Night.Add(1).Start(time.UTC).Before(x.HarvestedAt) {
			x.spoilable = true
		}
	}
	v, err := l.Books.Verdict(ctx, x.FromBedID)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("verdict of bed %d: %w", x.FromBedID, err)
	}
	body, _ := v.Kept.AsJudged() // of a night that has passed: no forecast makes it older
	at, ok := body.AirLowAt.Get()
	x.frostKilled = body.AlreadyLost && ok && at.Before(x.HarvestedAt)
	x.spoilable = x.spoilable || x.frostKilled
	return nil
}

// hurtShare is the loss from which a harvest counts as damaged: the share by
// which the service judges a bed as well.
const hurtShare = 0.2
