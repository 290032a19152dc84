// Package lifting decides which bed to take in which window when the hours of
// the crew, or the room in the stores, do not reach for all of them.
//
// Harvest is divisible by the hour, so with hours alone the best plan is a
// greedy one: dearest hour first, each bed given as much as still fits before
// its deadline (unit jobs with deadlines are a matroid; Lawler 1976, from
// memory). Where rooms bind as well it becomes a small linear programme.
package lifting

import (
	"fmt"
	"math"
	"slices"
	"time"

	"winterstand/internal/unit"
)

// Span is a stretch of time, End exclusive.
type Span struct {
	Start time.Time `json:"start"`
	End   time.Time `json:"end"`
}

// Bed is one bed with a deadline.
type Bed struct {
	ID         int64
	Deadline   time.Time           // harvest before
	Likelihood float64             // 0..1, that it is lost if it is not lifted
	Kg         unit.Maybe[float64] // standing; missing: it cannot be planned, and is named
	PricePerKg unit.Maybe[float64] // missing: the neutral price of the plan
	KgPerHour  float64             // lifted by one person in an hour
	Workable   []Span              // when leaves are thawed, ground open, people safe; nil: whenever there is crew
	RoomKinds  []string            // kinds of room that suit, best first; empty: it needs no room
}

// Window is crew time.
type Window struct {
	Span
	People float64 `json:"people"`
}

// Room is a store. FreeKg missing: no limit is known.
type Room struct {
	ID     int64
	Kind   string
	FreeKg unit.Maybe[float64]
}

// ToteKg is the size of the step in which room is offered: one tote, about
// 20 kg (common practice, no source).
const ToteKg = 20.0

// Why a bed, or a part of it, is given up.
type Why string

// Reasons.
const (
	NoWindow Why = "no-window" // no workable crew time before its deadline
	Hours    Why = "hours"     // the hours go to beds worth more
	NoRoom   Why = "room"      // the rooms that suit are full
	NoWeight Why = "no-weight" // what stands is not known
	NoValue  Why = "no-risk"   // nothing would be lost
)

// Whys lists every reason.
func Whys() []Why { return []Why{NoWindow, Hours, NoRoom, NoWeight, NoValue} }

// Placing is a weight that goes into a room; RoomID 0: none needed.
type Placing struct {
	RoomID int64   `json:"room_id"`
	Kg     float64 `json:"kg"`
}

// Lift is one bed in one window.
type Lift struct {
	BedID       int64     `json:"bed_id"`
	PersonHours float64   `json:"person_hours"`
	Kg          float64   `json:"kg"`
	Value       float64   `json:"value_at_risk"` // saved, in the farm's currency
	Into        []Placing `json:"into,omitempty"`
}

// Turn is what is done in one window, in order.
type Turn struct {
	Window
	Lifts           []Lift  `json:"lifts"`
	FreePersonHours float64 `json:"free_person_hours"`
	HourSaves       Saving  `json:"one_more_hour_saves"`
}

// GivenUp is what the plan leaves to the frost.
type GivenUp struct {
	BedID int64               `json:"bed_id"`
	Kg    unit.Maybe[float64] `json:"kg"`
	Value float64             `json:"value_at_risk"`
	Why   Why                 `json:"why"`
}

// Saving is what one more hour, or one more tote of room, would save.
type Saving struct {
	Value float64 `json:"value_at_risk"`
	BedID int64   `json:"bed_id,omitempty"` // the bed that gains most
	Kg    float64 `json:"kg,omitempty"`     // of that bed
}

// RoomUse is how a room fills.
type RoomUse struct {
	RoomID    int64   `json:"room_id"`
	Kg        float64 `json:"kg"`
	Full      bool    `json:"full"`
	ToteSaves Saving  `json:"one_more_tote_saves"`
}

// Result is the plan.
type Result struct {
	Turns        []Turn    `json:"windows"`
	GivenUp      []GivenUp `json:"given_up"`
	Rooms        []RoomUse `json:"rooms"`
	SavedValue   float64   `json:"saved_value_at_risk"`
	LostValue    float64   `json:"given_up_value_at_risk"`
	NeutralPrice float64   `json:"neutral_price_per_kg"`
	Unpriced     []int64   `json:"beds_at_neutral_price,omitempty"`
	RoomsUnknown bool      `json:"no_rooms_given"` // no room is recorded: nothing limits
	Exact        bool      `json:"is_optimal"`     // false: the programme failed, and a simpler rule was used
}

// Plan gives the best use of the windows and rooms. Nothing of it is rounded.
func Plan(beds []Bed, windows []Window, rooms []Room) (Result, error) {
	if err := check(beds, windows, rooms); err != nil {
		return Result{}, err
	}
	j := newJob(beds, windows, rooms)
	best := j.solve(nothing)
	r := j.describe(best)
	if r.LostValue > 0 {
		j.marginal(&r, best)
	}
	return r, nil
}

func check(beds []Bed, windows []Window, rooms []Room) error {
	for _, b := range beds {
		kg, price := b.Kg.Else(0), b.PricePerKg.Else(0)
		switch {
		case !(b.Likelihood >= 0 && b.Likelihood <= 1):
			return fmt.Errorf("bed %d: likelihood must be between 0 and 1, not %g", b.ID, b.Likelihood)
		case !within(kg) || !within(price):
			return fmt.Errorf("bed %d: kilograms and price must be 0 or more, not %g and %g", b.ID, kg, price)
		case !(b.KgPerHour > 0) || !within(b.KgPerHour):
			return fmt.Errorf("bed %d: rate of lifting must be above 0 kg per person and hour, not %g", b.ID, b.KgPerHour)
		case b.Deadline.IsZero():
			return fmt.Errorf("bed %d: deadline is missing", b.ID)
		}
	}
	for i, w := range windows {
		if !w.End.After(w.Start) || !within(w.People) {
			return fmt.Errorf("window %d: must end after it starts and have 0 people or more", i+1)
		}
	}
	for _, r := range rooms {
		if free := r.FreeKg.Else(0); !within(free) {
			return fmt.Errorf("room %d: free room must be 0 kg or more, not %g", r.ID, free)
		}
	}
	return nil
}

func within(v float64) bool { return v >= 0 && !math.IsInf(v, 1) }

// neutralPrice is the median of the prices that are given, so that a bed without
// one is neither favoured nor passed over; with none at all every kilogram
// counts 1.
func neutralPrice(beds []Bed) (price float64, unpriced []int64) {
	var known []float64
	for _, b := range beds {
		if p, ok := b.PricePerKg.Get(); ok {
			known = append(known, p)
		} else {
			unpriced = append(unpriced, b.ID)
		}
	}
	if len(known) == 0 {
		return 1, unpriced
	}
	slices.Sort(known)
	n := len(known)
	return (known[(n-1)/2] + known[n/2]) / 2, unpriced
}
