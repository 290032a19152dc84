package plan

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/storage/keeping"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/storage/supply"
	"winterstand/internal/unit"
)

// lift moves what the lifting plan takes out of the beds and into rooms, kilogram
// for kilogram. What goes into no room stays counted as standing.
func (l Reader) lift(ctx context.Context, farmID int64, s farmState, stores []Room, in *supply.Input) error {
	p, err := l.Plan(ctx, farmID)
	if err != nil {
		return err
	}
	rooms := map[int64]Room{}
	for _, r := range stores {
		rooms[r.ID] = r
	}
	for i := range in.Standing {
		bed := &in.Standing[i]
		taken := 0.0
		for _, t := range p.Turns {
			for _, x := range t.Lifts {
				if x.BedID != bed.BedID {
					continue
				}
				lots, err := l.put(bed.Crop, s.crops[bed.Crop].Family, t.End, x, rooms)
				if err != nil {
					return fmt.Errorf("lift bed %d: %w", bed.BedID, err)
				}
				for _, lot := range lots {
					lot.Kg = min(lot.Kg, bed.Kg.Else(0)-taken)
					taken += lot.Kg
					in.Lots = append(in.Lots, lot)
				}
			}
		}
		taken = min(taken, bed.Kg.Else(0))
		thin(bed, taken)
	}
	return nil
}

// thin takes a weight out of a bed; its regrowth goes with it.
func thin(bed *supply.Standing, taken float64) {
	kg, ok := bed.Kg.Get()
	if !ok || taken <= 0 {
		return
	}
	bed.Kg = unit.Some(kg - taken)
	if r, ok := bed.Regrow.Get(); ok {
		r.Kg *= 1 - taken/kg
		bed.Regrow = unit.Some(r)
	}
}

// put are the lots that one lift makes.
func (l Reader) put(crop, family string, at time.Time, x lifting.Lift, rooms map[int64]Room) ([]supply.Lot, error) {
	book, err := l.table()
	if err != nil {
		return nil, err
	}
	entry, err := book.Entry(crop, family)
	if err != nil {
		return nil, nil // nothing known of it: it stays counted as standing
	}
	keeper, err := book.Keeper(crop, family, laidIn(entry.Air))
	if err != nil {
		return nil, err
	}
	var out []supply.Lot
	for _, into := range x.Into {
		room, ok := rooms[into.RoomID]
		if !ok {
			continue
		}
		u, err := keeper.UseBy(keeping.State{}, at, climate(room.Air(at)))
		if err != nil {
			return nil, err
		}
		out = append(out, supply.Lot{Crop: crop, Kg: into.Kg, P10: u.P10, P50: u.P50, P90: u.P90})
	}
	return out, nil
}

// laidIn is what a harvest that is only planned is thought to lie in: what wilts
// in a closed tote, what rots in damp air in a crate (common practice, no source).
func laidIn(air keeping.Air) string {
	if air == keeping.Moist {
		return "tote"
	}
	return "crate"
}
