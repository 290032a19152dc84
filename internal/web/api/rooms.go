package api

import (
	"context"
	"net/http"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// Room is where lots are kept.
type Room struct {
	ID          int64                 `json:"id"`
	Name        string                `json:"name"`
	Kind        string                `json:"kind"`
	Temperature unit.Celsius          `json:"temperature_c" doc:"°C"`
	Humidity    unit.Maybe[float64]   `json:"humidity,omitzero" doc:"Fraction"`
	CapacityKg  unit.Maybe[float64]   `json:"capacity_kg,omitzero" doc:"kg"`
	CreatedAt   time.Time             `json:"created_at"`
	RemovedAt   unit.Maybe[time.Time] `json:"removed_at,omitzero"`
	Version     int64                 `json:"version"`
}

func roomView(r farm.Room) Room {
	return Room{
		ID: r.ID, Name: r.Name, Kind: r.Kind, Temperature: r.Temperature, Humidity: r.Humidity, CapacityKg: r.CapacityKg,
		CreatedAt: r.CreatedAt.UTC(), RemovedAt: utc(r.RemovedAt), Version: r.Version,
	}
}

// NewRoom is a room to be made.
type NewRoom commands.RoomInput

func (s *service) roomRoutes() {
	handle(s, op(http.MethodGet, "/v1/rooms", "list-rooms", "store", "Rooms of the farm"), s.listRooms)
	handle(s, op(http.MethodPost, "/v1/rooms", "add-room", "store", "Make a room"), s.addRoom)
	handle(s, op(http.MethodGet, "/v1/rooms/{id}", "get-room", "store", "One room"), s.getRoom)
	handle(s, op(http.MethodPatch, "/v1/rooms/{id}", "change-room", "store", "Change a room: members given are changed, null empties"), s.changeRoom)
	handle(s, op(http.MethodDelete, "/v1/rooms/{id}", "remove-room", "store", "Take an empty room off the lists"), s.removeRoom)
}

func (s *service) listRooms(ctx context.Context, farmID int64, in *Paging) (*listed[Room], error) {
	rooms, err := s.Commands.Store.Rooms(ctx, farmID, in.ask())
	if err != nil {
		return nil, err
	}
	return listOf(*in, "/v1/rooms", "", rooms, func(r farm.Room) int64 { return r.ID }, roomView), nil
}

func (s *service) addRoom(ctx context.Context, farmID int64, in *post[NewRoom]) (*made[Room], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/rooms", in.Body}, func(d commands.Service) (made[Room], error) {
		r, err := d.AddRoom(ctx, farmID, commands.RoomInput(in.Body))
		return created("/v1/rooms", r.ID, r.Version, roomView(r)), err
	})
}

func (s *service) getRoom(ctx context.Context, farmID int64, in *ByID) (*one[Room], error) {
	r, err := s.Commands.Store.Room(ctx, farmID, in.ID)
	return &one[Room]{etag(r.Version), roomView(r)}, err
}

func (s *service) changeRoom(ctx context.Context, farmID int64, in *changeByID[commands.RoomInput]) (out *one[Room], err error) {
	err = change(in.IfMatch, func(seen commands.Seen) error {
		r, err := s.Commands.ChangeRoom(ctx, farmID, in.ID, seen, in.Body)
		out = &one[Room]{etag(r.Version), roomView(r)}
		return err
	})
	return out, err
}

func (s *service) removeRoom(ctx context.Context, farmID int64, in *removeByID) (*nothing, error) {
	return &nothing{}, change(in.IfMatch, func(seen commands.Seen) error {
		return s.Commands.RemoveRoom(ctx, farmID, in.ID, seen)
	})
}
