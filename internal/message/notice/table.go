package notice

import (
	"slices"

	"winterstand/internal/farm"
)

// Move is a row of the table of transitions: in these phases, for this reason,
// this is sent and that phase follows.
type Move struct {
	From  []farm.Phase
	For   Reason
	Sends Kind // empty: nothing
	To    farm.Phase
}

// Sets of phases as rows name them.
var (
	waiting  = []farm.Phase{farm.Told, farm.Called} // a deadline was told
	tooLate  = []farm.Phase{farm.ToldTooLate}
	relieved = []farm.Phase{farm.Relieved}
	quiet    = []farm.Phase{farm.Quiet}
	spent    = []farm.Phase{farm.Spent}
)

// Moves are all transitions of a bed's event. What is not listed moves nothing
// and sends nothing. A row's notice counts the revision up by one.
var Moves = []Move{
	// It begins.
	{quiet, WithinLead, HarvestBefore, farm.Told},
	{quiet, LossLikely, HarvestBefore, farm.Told},
	{quiet, OnlyWindow, HarvestBefore, farm.Told},
	{quiet, NoWindow, HarvestBefore, farm.ToldTooLate},
	// It changes.
	{waiting, CameNearer, Moved, farm.Told},
	{waiting, MovedAway, Moved, farm.Told},
	{waiting, WindowsClosed, Moved, farm.ToldTooLate},
	{relieved, WindowOpened, Moved, farm.Told},
	{[]farm.Phase{farm.Told}, LastWindow, LastCall, farm.Called},
	{tooLate, Relief, "", farm.Relieved},
	{spent, Relief, "", farm.Quiet},
	// It ends.
	{slices.Concat(waiting, tooLate, relieved), DangerGone, StandDown, farm.Quiet},
	{slices.Concat(waiting, relieved), NightHarmless, StandDown, farm.Quiet},
	{tooLate, NightHarmless, StandDown, farm.Spent},
	{slices.Concat(waiting, relieved), NightBeen, Inspect, farm.Quiet},
	{tooLate, NightBeen, Inspect, farm.Spent},
	{slices.Concat(waiting, relieved, quiet), NightTook, Inspect, farm.Quiet},
	{slices.Concat(tooLate, spent), NightTook, Inspect, farm.Spent},
	{slices.Concat(waiting, relieved), NextDanger, "", farm.Quiet},
	{tooLate, NextDanger, "", farm.Spent},
	{slices.Concat(waiting, tooLate, relieved), GroundShut, "", farm.Spent},
	{slices.Concat(waiting, relieved), GroundOver, "", farm.Quiet},
	{tooLate, GroundOver, "", farm.Spent},
	{slices.Concat(waiting, relieved), NothingLeft, "", farm.Quiet},
	{tooLate, NothingLeft, "", farm.Spent},
}

func moveOf(p farm.Phase, r Reason) (Move, bool) {
	i := slices.IndexFunc(Moves, func(m Move) bool { return m.For == r && slices.Contains(m.From, p) })
	if i < 0 {
		return Move{}, false
	}
	return Moves[i], true
}
