package notice

// Reason is why something is or is not told of a bed in a round: a closed set,
// kept with every notice, logged and counted.
type Reason string

// Reasons to tell something.
const (
	WithinLead    Reason = "within_lead"    // the deadline is within the farm's lead time
	LossLikely    Reason = "loss_likely"    // the loss is likely, however far off
	OnlyWindow    Reason = "only_window"    // no later workable window remains
	NoWindow      Reason = "no_window"      // no workable window is left before the night
	CameNearer    Reason = "came_nearer"    // the deadline came nearer by the farm's step
	MovedAway     Reason = "moved_away"     // it moved away by the step, in two issues in a row
	WindowOpened  Reason = "window_opened"  // told too late, a workable window has opened
	WindowsClosed Reason = "windows_closed" // a deadline was told, and now no window is left
	LastWindow    Reason = "last_window"    // it is opening and nobody has answered
	DangerGone    Reason = "danger_gone"    // two issues in a row under half of C/L
	NightHarmless Reason = "night_harmless" // the night has been and by the model did no harm
	NightBeen     Reason = "night_been"     // the night has been and may have done harm
	NightTook     Reason = "night_took"     // by the model a night took the bed
)

// Reasons to end an event without a word.
const (
	NothingLeft Reason = "nothing_left" // by the grower's own finding
	GroundShut  Reason = "ground_shut"  // the ground froze as told and stays shut
	GroundOver  Reason = "ground_over"  // the ground froze as told and can be worked again
	NextDanger  Reason = "next_danger"  // the night did no harm, the next danger is in sight
	Relief      Reason = "relief"       // told too late; a window has opened or the danger is low
)

// Reasons to say nothing.
const (
	CannotSee     Reason = "unseen"         // the bed cannot be judged
	LeftAlone     Reason = "left_alone"     // the grower leaves it for this night
	Stands        Reason = "stands"         // no deadline
	NotYet        Reason = "not_yet"        // far off and not likely: waiting costs nothing
	AskedAlready  Reason = "asked_already"  // people were asked about this night or a later one
	SaidTooLate   Reason = "said_too_late"  // told too late once; nothing has changed
	Waiting       Reason = "waiting"        // eased or moved away in one issue; the next must agree
	Unchanged     Reason = "unchanged"      // as told, and the last window is not opening
	Answered      Reason = "answered"       // the last window opens, but somebody has answered
	CalledAlready Reason = "called_already" // one last call an event
	ToldJustNow   Reason = "told_just_now"  // too recently for a last call on top
)

// Reasons are all of them.
func Reasons() []Reason {
	return []Reason{WithinLead, LossLikely, OnlyWindow, NoWindow, CameNearer, MovedAway, WindowOpened, WindowsClosed, LastWindow,
		DangerGone, NightHarmless, NightBeen, NightTook, NothingLeft, GroundShut, GroundOver, NextDanger, Relief,
		CannotSee, LeftAlone, Stands, NotYet, AskedAlready, SaidTooLate, Waiting, Unchanged, Answered, CalledAlready, ToldJustNow}
}
