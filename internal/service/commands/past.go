package commands

import (
	"context"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// Bounds of a room's past, own defaults: a thermometer may send as often as it
// likes, one entry an hour is kept; of very many, every other of the older half
// goes.
const (
	airStep = time.Hour
	mostAir = 2000
)

// airChanged writes down that the air of a room has become another.
func (d Service) airChanged(ctx context.Context, w store.Writer, before, after farm.Room) error {
	now := after.Air(d.now())
	if before.Air(now.From) == now {
		return nil
	}
	past, err := store.RoomPast(ctx, w, before)
	if err != nil {
		return err
	}
	if last := len(past) - 1; last > 0 && now.From.Sub(past[last].From) < airStep {
		now.From = past[last].From
		past[last] = now
	} else {
		past = append(past, now)
	}
	return store.KeepRoomPast(ctx, w, after.ID, thinned(past), d.now())
}

// thinned keeps the first entry, the newer half whole, and half of the older.
func thinned(past []farm.RoomAir) []farm.RoomAir {
	if len(past) <= mostAir {
		return past
	}
	half := len(past) / 2
	var out []farm.RoomAir
	for i, a := range past {
		if i >= half || i%2 == 0 {
			out = append(out, a)
		}
	}
	return out
}

// moved writes down that a lot has been put into another room.
func (d Service) moved(ctx context.Context, w store.Writer, before, after farm.Lot) error {
	if before.RoomID == after.RoomID {
		return nil
	}
	past, err := store.LotPast(ctx, w, before)
	if err != nil {
		return err
	}
	past = append(past, farm.Stay{From: d.now(), RoomID: after.RoomID})
	return store.KeepLotPast(ctx, w, after.ID, past, d.now())
}

// filled tells of rooms whose load may have changed, each once.
func (d Service) filled(ctx context.Context, w store.Writer, farmID int64, rooms ...int64) error {
	if d.Filled == nil {
		return nil
	}
	slices.Sort(rooms)
	for _, id := range slices.Compact(rooms) {
		if err := d.Filled(ctx, w, farmID, id); err != nil {
			return err
		}
	}
	return nil
}
