package keeping

import (
	"fmt"
	"strings"

	"winterstand/internal/unit"
)

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
)

// Codes of advice on a room.
const (
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

// Note is one reason or piece of advice as plain data; Text makes the sentence.
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

// Text is the note in plain English, in the reader's units. name gives a crop's
// title; nil writes the key.
func (n Note) Text(units unit.System, name func(string) string) string {
	if name == nil {
		name = func(key string) string { return key }
	}
	others := make([]string, len(n.Other))
	for i, o := range n.Other {
		others[i] = name(o)
	}
	return n.sentence(sayer{units, name(n.Crop), strings.Join(others, ", ")})
}

// sayer holds the words of one note.
type sayer struct {
	units unit.System
	crop  string
	other string
}

func (n Note) sentence(s sayer) string {
	temp, limit := s.units.Temperature(n.Temp.Else(0)), s.units.Temperature(n.Limit.Else(0))
	percent := fmt.Sprintf("%.0f %%", 100*n.Share.Else(0))
	switch n.Code {
	case FamilyFigures:
		return fmt.Sprintf("No figures for %s itself; those of its family are used.", s.crop)
	case NoWaterFigure:
		return fmt.Sprintf("How fast %s dries is not known; only its ageing is counted.", s.crop)
	case HumidityAssumed:
		return "The room's humidity is not given; an ordinary one for such a room is assumed."
	case StillCuring:
		return fmt.Sprintf("The %s is still curing; its storage life begins when the skins are dry.", s.crop)
	case NotCured:
		return fmt.Sprintf("Cure %s first: about two weeks in moving air, then store.", s.crop)
	case NoFreezingPoint:
		return fmt.Sprintf("No freezing point is published for %s; keep the room above %s.", s.crop, s.units.Temperature(0))
	case UsePromptly:
		return fmt.Sprintf("The %s froze and thawed: use promptly, discard what is soft or decayed, never put it into long storage.", s.crop)
	}
	if n.Temp.Known() {
		return n.aboutCold(s, temp, limit)
	}
	return n.aboutRoom(s, percent)
}

func (n Note) aboutCold(s sayer, temp, limit string) string {
	switch n.Code {
	case BelowFreezing:
		return fmt.Sprintf("At %s %s freezes in store (it freezes at %s).", temp, s.crop, limit)
	case Chilled:
		return fmt.Sprintf("At %s %s suffers from chilling (below %s) and keeps less long.", temp, s.crop, limit)
	case FreezerWarm:
		return fmt.Sprintf("The freezer stands at %s; frozen produce wants %s or colder.", temp, limit)
	}
	return fmt.Sprintf("At %s %s keeps less than half as long as at %s.", temp, s.crop, limit)
}

func (n Note) aboutRoom(s sayer, percent string) string {
	switch n.Code {
	case HumidityClash:
		return fmt.Sprintf("%s wants dry, moving air; %s wants damp air. Keep them in different rooms, or the roots and leaves in closed totes.", s.crop, s.other)
	case EthyleneClash:
		return fmt.Sprintf("%s gives off ethylene, which spoils %s in the same room.", s.crop, s.other)
	case TooDry:
		return fmt.Sprintf("The air (%s) is too dry for %s in the open: a closed tote or a bag keeps it from wilting.", percent, s.crop)
	case TooDamp:
		return fmt.Sprintf("The air (%s) is too damp for %s: it rots or sprouts. Move it to an airy place.", percent, s.crop)
	case NeedsAir:
		return fmt.Sprintf("%s needs air around it: an open crate or hung up, not a closed tote or bag.", s.crop)
	case SortRipening:
		return fmt.Sprintf("Only sound green %s ripens: sort it every few days and take out what is ripe or soft.", s.crop)
	case DoNotCan:
		return fmt.Sprintf("Do not can %s from dead or frost-killed vines: it may not be acid enough to be safe. Freezing it or eating it fresh is the way.", s.crop)
	case RoomOverfull:
		return fmt.Sprintf("The room holds more than it has room for (%s).", percent)
	}
	return fmt.Sprintf("The room is nearly full (%s).", percent)
}
