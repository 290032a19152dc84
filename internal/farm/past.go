package farm

import (
	"time"

	"winterstand/internal/unit"
)

// RoomAir is what a room's air was from an instant on, until the next entry.
type RoomAir struct {
	From        time.Time           `json:"from"`
	Kind        string              `json:"kind"`
	Temperature unit.Celsius        `json:"temperature_c"`
	Humidity    unit.Maybe[float64] `json:"humidity,omitzero"`
}

// Air is what the room has from an instant on.
func (r Room) Air(from time.Time) RoomAir {
	return RoomAir{From: from, Kind: r.Kind, Temperature: r.Temperature, Humidity: r.Humidity}
}

// Stay is where a lot was kept from an instant on, until the next entry.
type Stay struct {
	From   time.Time `json:"from"`
	RoomID int64     `json:"room_id"`
}
