package keeping

import (
	"fmt"
	"regexp"
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

// English holds the sentence of every code; names in braces are filled in.
var English = map[Code]string{
	FamilyFigures:   "No figures for {crop} itself; those of its family are used.",
	NoWaterFigure:   "How fast {crop} dries is not known; only its ageing is counted.",
	HumidityAssumed: "The room's humidity is not given; an ordinary one for such a room is assumed.",
	StillCuring:     "{crop} is still curing; its storage life begins when the skins are dry.",
	NotCured:        "Cure {crop} first: about two weeks in moving air, then store.",
	BelowFreezing:   "At {temperature} {crop} freezes in store (it freezes at {limit}).",
	NoFreezingPoint: "No freezing point is published for {crop}; keep the room above {freezing}.",
	Chilled:         "At {temperature} {crop} suffers from chilling (below {limit}) and keeps less long.",
	UsePromptly:     "{crop} froze and thawed: use promptly, discard what is soft or decayed, never put it into long storage.",
	Damaged:         "{crop} is damaged: use promptly or freeze what is sound, never put it into long storage.",
	HumidityClash:   "{crop} wants dry, moving air; {others} wants damp air. Keep them in different rooms, or the roots and leaves in closed totes.",
	EthyleneClash:   "{crop} gives off ethylene, which spoils {others} in the same room.",
	TooWarm:         "At {temperature} {crop} keeps less than half as long as at {limit}.",
	TooDry:          "The air ({share}) is too dry for {crop} in the open: a closed tote or a bag keeps it from wilting.",
	TooDamp:         "The air ({share}) is too damp for {crop}: it rots or sprouts. Move it to an airy place.",
	NeedsAir:        "{crop} needs air around it: an open crate or hung up, not a closed tote or bag.",
	FreezerWarm:     "The freezer stands at {temperature}; frozen produce wants {limit} or colder.",
	SortRipening:    "Only sound green {crop} ripens: sort it every few days and take out what is ripe or soft.",
	DoNotCan:        "Do not can {crop} from dead or frost-killed vines: it may not be acid enough to be safe. Freezing it or eating it fresh is the way.",
	RoomFull:        "The room is nearly full ({share}).",
	RoomOverfull:    "The room holds more than it has room for ({share}).",
}

// Args fill the braces of the note's sentence, in the reader's units. name gives
// a crop's title; nil writes the key.
func (n Note) Args(units unit.System, name func(string) string) map[string]string {
	if name == nil {
		name = func(key string) string { return key }
	}
	others := make([]string, len(n.Other))
	for i, o := range n.Other {
		others[i] = name(o)
	}
	args := map[string]string{"others": strings.Join(others, ", "), "freezing": units.Temperature(0)}
	if n.Crop != "" {
		args["crop"] = name(n.Crop)
	}
	if t, ok := n.Temp.Get(); ok {
		args["temperature"] = units.Temperature(t)
	}
	if t, ok := n.Limit.Get(); ok {
		args["limit"] = units.Temperature(t)
	}
	if share, ok := n.Share.Get(); ok {
		args["share"] = fmt.Sprintf("%.0f %%", 100*share)
	}
	return args
}

var brace = regexp.MustCompile(`\{([a-z]+)\}`)

// Text is the note in plain English.
func (n Note) Text(units unit.System, name func(string) string) string {
	args := n.Args(units, name)
	text := brace.ReplaceAllStringFunc(English[n.Code], func(m string) string {
		if v, ok := args[m[1:len(m)-1]]; ok {
			return v
		}
		return m // seen, never a wrong number
	})
	return strings.ToUpper(text[:1]) + text[1:]
}
