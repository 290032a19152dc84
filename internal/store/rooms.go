package store

import (
	"context"

	"winterstand/internal/farm"
)

// RoomReader finds rooms and the lots in them.
type RoomReader interface {
	Room(ctx context.Context, farmID, id int64) (farm.Room, error)
	Rooms(ctx context.Context, farmID int64, page Page) ([]farm.Room, error)
	Lot(ctx context.Context, farmID, id int64) (farm.Lot, error)
	Lots(ctx context.Context, farmID int64, page Page) ([]farm.Lot, error) // not ended
}

// RoomWriter changes them.
type RoomWriter interface {
	AddRoom(ctx context.Context, r farm.Room) (int64, error)
	UpdateRoom(ctx context.Context, r farm.Room) error
	AddLot(ctx context.Context, l farm.Lot) (int64, error)
	UpdateLot(ctx context.Context, l farm.Lot) error
}
