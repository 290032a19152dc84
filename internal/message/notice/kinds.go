// Package notice decides whether something is to be told, and says it. Values
// in, values out.
package notice

// Kind of a notice.
type Kind = string

// The kinds of the contract.
const (
	HarvestBefore Kind = "harvest-before"
	Moved         Kind = "moved"      // earlier or later by more than the farm's step
	LastCall      Kind = "last-call"  // the last window is opening, no answer yet
	StandDown     Kind = "stand-down" // the danger has gone
	Inspect       Kind = "inspect"    // the night has been; go and look, tell us
	Blind         Kind = "blind"      // no usable forecast
	SightAgain    Kind = "sight-again"
	UseBy         Kind = "use-by"    // a lot
	RoomFull      Kind = "room-full" // a room
	Undelivered   Kind = "undelivered"
	StillWatching Kind = "still-watching" // weekly sign of life
)

// Kinds in the order people read them.
func Kinds() []Kind {
	return []Kind{HarvestBefore, Moved, LastCall, StandDown, Inspect, Blind, SightAgain,
		UseBy, RoomFull, Undelivered, StillWatching}
}

// Urgent kinds may break quiet hours when waiting would eat the deadline.
func Urgent(k Kind) bool {
	switch k {
	case HarvestBefore, Moved, LastCall, Blind, Undelivered:
		return true
	}
	return false
}
