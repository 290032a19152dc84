package keeping

import "winterstand/internal/unit"

// Code names one thing worth saying about a lot or a room.
type Code string

// Codes of notes on one lot.
const (
	FamilyFigures   Code = "family-figures"
	NoWaterFigure   Code = "no-water-figure"
	HumidityAssumed Code = "humidity-assumed"
	StillCuring     Code = "still-curing"
	NotCured        Code = "cure-first"
	BelowFreezing   Code = "below-freezing-point"
	NoFreezingPoint Code = "no-freezing-point"
	Chilled         Code = "chilling"
	UsePromptly     Code = "use-promptly"
	NoFigures       Code = "no-figures" // neither of the crop nor of its family: its life cannot be told
)

// Codes of advice on a room.
const (
	Damaged       Code = "damaged"
	HumidityClash Code = "opposite-humidity"
	EthyleneClash Code = "ethylene"
	TooWarm       Code = "too-warm"
	TooDry        Code = "too-dry"
	TooDamp       Code = "too-damp"
	NeedsAir      Code = "needs-air"
	FreezerWarm   Code = "freezer-too-warm"
	SortRipening  Code = "sort-ripening"
	DoNotCan      Code = "do-not-can"
	RoomFull      Code = "room-full"
	RoomOverfull  Code = "room-overfull"
)

// Codes lists every code.
func Codes() []Code {
	return []Code{FamilyFigures, NoWaterFigure, HumidityAssumed, StillCuring, NotCured, BelowFreezing, NoFreezingPoint, Chilled, UsePromptly, NoFigures,
		Damaged, HumidityClash, EthyleneClash, TooWarm, TooDry, TooDamp, NeedsAir, FreezerWarm, SortRipening, DoNotCan, RoomFull, RoomOverfull}
}

// Note is one reason or piece of advice as plain data; the phrase of its code
// makes the sentence.
type Note struct {
	Code    Code                     `json:"code"`
	Crop    string                   `json:"crop,omitempty"`
	Other   []string                 `json:"other_crops,omitempty"`
	Lots    []int64                  `json:"lots,omitempty"`
	Warning bool                     `json:"warning"` // something is at risk now
	Temp    unit.Maybe[unit.Celsius] `json:"temperature_c,omitzero"`
	Limit   unit.Maybe[unit.Celsius] `json:"limit_c,omitzero"`
	Share   unit.Maybe[float64]      `json:"share,omitzero"` // humidity, or how full
}
