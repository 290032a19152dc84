package notice

import (
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Facts are all that a notice says and rests on. They are stored with it and
// never change; the words are made from them for each reader.
type Facts struct {
	Kind       Kind                `json:"kind"`
	Farm       string              `json:"farm"`
	Field      string              `json:"field,omitempty"`
	Bed        string              `json:"bed,omitempty"`
	BedID      int64               `json:"bed_id,omitempty"`
	Crop       string              `json:"crop,omitempty"`     // catalogue key
	Titles     map[string]string   `json:"titles,omitempty"`   // the crop's names by language
	Cautions   []crop.Caution      `json:"cautions,omitempty"` // that the crop declares
	Variety    string              `json:"variety,omitempty"`
	Zone       string              `json:"zone"`
	Night      farm.Day            `json:"night,omitempty"`
	Purpose    farm.Purpose        `json:"purpose,omitempty"`
	StandingKg unit.Maybe[float64] `json:"standing_kg,omitzero"`

	Verdict *farm.Verdict `json:"verdict,omitempty"`
	// Before is the deadline told last, for a moved one.
	Before unit.Maybe[time.Time] `json:"before,omitzero"`
	// What the decision was made with.
	LeadHours      float64 `json:"lead_h,omitempty"`
	MovedStepHours float64 `json:"moved_step_h,omitempty"`
	Why            Reason  `json:"why,omitempty"`    // which rule made it due
	Passed         bool    `json:"passed,omitempty"` // stood down after a night that did no harm

	Sight  *Sight  `json:"sight,omitempty"`  // blind, sight-again
	Alerts []Alert `json:"alerts,omitempty"` // official warnings in force for the field

	Lot       *LotFacts  `json:"lot,omitempty"`
	Room      *RoomFacts `json:"room,omitempty"`
	Unreached *Unreached `json:"unreached,omitempty"`
	Watching  *Watching  `json:"watching,omitempty"`
}

// Sight is what a field can see of the weather.
type Sight struct {
	Reason  farm.Blindness        `json:"reason"`
	Since   time.Time             `json:"since"`
	Issued  unit.Maybe[time.Time] `json:"issued,omitzero"` // of the newest forecast there is
	Source  string                `json:"source,omitempty"`
	Holes   []farm.Window         `json:"holes,omitempty"`
	Missing []farm.Gap            `json:"gaps,omitempty"`
	Trouble []Trouble             `json:"trouble,omitempty"` // with the sources
}

// Alert is an official warning in force.
type Alert struct {
	Event    string                `json:"event"`
	Headline string                `json:"headline,omitempty"`
	Onset    unit.Maybe[time.Time] `json:"onset,omitzero"`
	Ends     unit.Maybe[time.Time] `json:"ends,omitzero"`
	Sender   string                `json:"sender"`
}

// LotFacts of a use-by notice.
type LotFacts struct {
	ID    int64     `json:"id"`
	Kg    float64   `json:"kg"`
	Room  string    `json:"room"`
	UseBy time.Time `json:"use_by"` // middle
	Early time.Time `json:"early"`  // 1 in 10
	Clock string    `json:"clock"`  // ageing, water, curing, ripening, frozen, thawed; or Cured
}

// Cured stands in the place of a clock for a lot that has cured and may be
// moved to where it keeps.
const Cured = "cured"

// RoomFacts of a room-full notice.
type RoomFacts struct {
	ID         int64   `json:"id"`
	Name       string  `json:"name"`
	Kg         float64 `json:"kg"`
	CapacityKg float64 `json:"capacity_kg"`
}

// Unreached is a recipient whom a message did not reach.
type Unreached struct {
	Name    string  `json:"name"`
	Channel string  `json:"channel"`
	Error   string  `json:"error"`
	About   []int64 `json:"about"` // the notices that did not arrive
	// Alone: they have stopped the channel themselves, and nobody on the farm
	// gets harvest-before notices any more.
	Alone bool `json:"alone,omitempty"`
}

// Watching is the weekly sign of life.
type Watching struct {
	Beds   int                   `json:"beds"`
	Open   int                   `json:"open"`             // with a deadline in sight
	Unseen int                   `json:"unseen,omitempty"` // cannot be judged now
	Issued unit.Maybe[time.Time] `json:"issued,omitzero"`
	Next   string                `json:"next,omitempty"` // bed with the nearest deadline
	NextAt unit.Maybe[time.Time] `json:"next_at,omitzero"`
}
