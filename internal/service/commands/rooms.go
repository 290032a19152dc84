package commands

import (
	"context"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// RoomInput is a room as it is handed in.
type RoomInput struct {
	Name        Optional[string]  `json:"name,omitzero" doc:"What people call the room" example:"Root cellar"`
	Kind        Optional[string]  `json:"kind,omitzero" doc:"What sort of room it is"`
	Temperature Optional[float64] `json:"temperature_c,omitzero" doc:"Air temperature, °C" example:"3.9"`
	Humidity    Optional[float64] `json:"humidity,omitzero" doc:"Relative humidity as a fraction" example:"0.95"`
	CapacityKg  Optional[float64] `json:"capacity_kg,omitzero" doc:"How much it holds, kg" example:"800"`
}

func applyRoom(c *check, in RoomInput, r *farm.Room) {
	accept(c, "name", in.Name, aName, &r.Name, strings.TrimSpace)
	accept(c, "kind", in.Kind, oneOf("room.kind"), &r.Kind, same[string])
	accept(c, "temperature_c", in.Temperature, within("room.temperature_c"), &r.Temperature, celsius)
	acceptMaybe(c, "humidity", in.Humidity, within("room.humidity"), &r.Humidity, same[float64])
	acceptMaybe(c, "capacity_kg", in.CapacityKg, within("room.capacity_kg"), &r.CapacityKg, same[float64])
}

// AddRoom makes a room. Errors: *Invalid.
func (d Service) AddRoom(ctx context.Context, farmID int64, in RoomInput) (r farm.Room, err error) {
	var c check
	made := farm.Room{FarmID: farmID, CreatedAt: d.now()}
	c.needs("room", in)
	applyRoom(&c, in, &made)
	if err := c.err(); err != nil {
		return r, err
	}
	err = d.write(ctx, func(w store.Writer) error {
		id, err := w.AddRoom(ctx, made)
		if err != nil {
			return err
		}
		r, err = w.Room(ctx, farmID, id)
		return err
	})
	return r, err
}

// ChangeRoom changes the members that were given. Errors: *Invalid, *Refused
// (removed), store.ErrNotFound, store.ErrChanged.
func (d Service) ChangeRoom(ctx context.Context, farmID, id int64, seen Seen, in RoomInput) (r farm.Room, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		if r, err = w.Room(ctx, farmID, id); err != nil {
			return err
		}
		if err = unchanged(seen, r.Version); err != nil {
			return err
		}
		if r.RemovedAt.Known() {
			return refuse("room_gone", "id", id)
		}
		before := r
		var c check
		applyRoom(&c, in, &r)
		if err = c.err(); err != nil {
			return err
		}
		if err = w.UpdateRoom(ctx, r); err != nil {
			return err
		}
		r.Version++
		if err = d.airChanged(ctx, w, before, r); err != nil {
			return err
		}
		return d.filled(ctx, w, farmID, id)
	})
	return r, err
}

// RemoveRoom takes a room off the lists; removing it twice is harmless.
// Errors: *Refused while a lot is kept in it, store.ErrNotFound, store.ErrChanged.
func (d Service) RemoveRoom(ctx context.Context, farmID, id int64, seen Seen) error {
	return d.write(ctx, func(w store.Writer) error {
		r, err := w.Room(ctx, farmID, id)
		if err != nil || r.RemovedAt.Known() {
			return err
		}
		if err := unchanged(seen, r.Version); err != nil {
			return err
		}
		kept, err := lotsIn(ctx, w.Reader, farmID, id)
		if err != nil {
			return err
		}
		if kept > 0 {
			return refuse("room", "n", kept)
		}
		r.RemovedAt = unit.Some(d.now())
		return w.UpdateRoom(ctx, r)
	})
}

func lotsIn(ctx context.Context, r store.Reader, farmID, roomID int64) (n int, err error) {
	lots, err := r.Lots(ctx, farmID, store.Page{})
	for _, l := range lots {
		if l.RoomID == roomID {
			n++
		}
	}
	return n, err
}
