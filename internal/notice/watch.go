package notice

import (
	"time"

	"winterstand/internal/deadline"
	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// SureEnough is the likelihood from which a notice goes out however far off the
// deadline lies; own default.
const SureEnough = 0.6

// lastCallAhead is how long before the last window opens the last call goes out.
const lastCallAhead = 2 * time.Hour

// freshFor: a bed told this recently needs no last call on top.
const freshFor = 8 * time.Hour

// Watch is what has been told about one bed and is still open. It is stored
// with the bed's verdict.
type Watch struct {
	Open        bool                        `json:"open"`
	NoticeID    int64                       `json:"notice_id,omitempty"` // the first of the event
	Night       farm.Day                    `json:"night,omitempty"`     // as told last
	Deadline    unit.Maybe[time.Time]       `json:"deadline,omitzero"`   // as told last; missing: told too late
	LastWindow  unit.Maybe[deadline.Window] `json:"last_window,omitzero"`
	ToldAt      unit.Maybe[time.Time]       `json:"told_at,omitzero"`
	Revision    int                         `json:"revision"`        // of the last notice; never goes back
	LowIssues   int                         `json:"low_issues"`      // successive issues under half of C/L
	LaterIssues int                         `json:"later_issues"`    // successive issues with a later deadline
	Issued      unit.Maybe[time.Time]       `json:"issued,omitzero"` // of the forecast judged last
	LastCalled  bool                        `json:"last_called,omitempty"`
	Inspected   farm.Day                    `json:"inspected,omitempty"` // the last night asked about
	Awaits      farm.Day                    `json:"awaits,omitempty"`    // the night by the newest forecast, while the deadline has not passed
	Cause       deadline.Cause              `json:"cause,omitempty"`     // as told last
	Left        unit.Maybe[float64]         `json:"left,omitzero"`       // market quality left when the event was told
	Gone        bool                        `json:"gone,omitempty"`      // told too late: nothing more to say until a window or relief comes
}

// ends is the night after which the open event is over.
func (w Watch) ends() farm.Day {
	if w.Awaits != "" {
		return w.Awaits
	}
	return w.Night
}

// closed is the watch with no event open.
func (w Watch) closed() Watch {
	return Watch{Revision: w.Revision, Issued: w.Issued, Inspected: w.Inspected, Gone: w.Gone}
}

// Rules are the farm's settings that decide when something is told.
type Rules struct {
	Lead      time.Duration
	MovedStep time.Duration
	Zone      *time.Location
}

// Draft is a notice that is due.
type Draft struct {
	Kind     Kind
	Night    farm.Day
	Revision int
	Before   unit.Maybe[time.Time]
	Passed   bool // stood down because the night has been and done no harm
	Why      string
}

// Next decides, for one bed, what is due now: at most one notice. answered says
// that somebody has answered the open event; muted, that the grower leaves the
// bed for this night.
//
// Rules (own): told when the deadline is within the lead, or no later workable
// window remains, or the loss is likely enough; too late is told once, until a
// window opens or the danger goes; moved from the farm's step on; stood down only
// after two successive issues under half of C/L; a last call when the last window
// opens unanswered; an inspection asked for when a night has been that may have
// done harm.
func Next(w Watch, v deadline.Verdict, r Rules, now time.Time, answered, muted bool) (Watch, *Draft) {
	switch {
	case v.NothingLeft:
		return w.closed(), nil
	case w.Open && nightOver(w.ends(), r.Zone, now):
		return over(w, v)
	case v.AlreadyLost:
		return lost(w, v, r, now)
	case v.State == deadline.Unknown || muted:
		return w, nil
	}
	w, fresh := seeIssue(w, v)
	if v.State == deadline.HarvestBefore || cleared(v) {
		w.Gone = false
	}
	if !w.Open {
		return first(w, v, r, now)
	}
	if w, d := change(w, v, r, now, fresh); d != nil || !w.Open {
		return w, d
	}
	return lastCall(w, v, now, answered)
}

// cleared: the danger is under half of what it takes to act.
func cleared(v deadline.Verdict) bool {
	p, known := v.Likelihood.Get()
	return v.State == deadline.Holds && known && p < v.CostLoss/2
}

// over ends an event with its night. Ground that froze shut has hurt nothing
// yet, so there is nothing to look at; a night that by the model did no harm is
// stood down, unless the next danger is in sight already.
func over(w Watch, v deadline.Verdict) (Watch, *Draft) {
	switch {
	case w.Cause == deadline.GroundFrozen:
	case !harmless(w, v):
		return inspected(w, w.ends())
	case v.State == deadline.Holds:
		d := &Draft{Kind: StandDown, Night: w.ends(), Revision: w.Revision + 1, Passed: true, Why: "the night has been and by the model did no harm"}
		w = w.closed()
		w.Revision++
		return w, d
	}
	w = w.closed()
	w.Gone = w.Gone || v.State == deadline.TooLate
	return w, nil
}

// leastHarm is the share of market quality from whose loss on people are asked
// to look; own default, well under what anyone can see.
const leastHarm = 0.02

// harmless: the model saw the night, and next to nothing was lost in it. What is
// kept for its crown is always worth a look.
func harmless(w Watch, v deadline.Verdict) bool {
	left, known := w.Left.Get()
	return known && w.Cause != deadline.CrownFreeze && v.State != deadline.Unknown && !v.AlreadyLost && v.SoldLeft > left-leastHarm
}

// lost: by the model a night took it. That is asked about once, when it is light.
func lost(w Watch, v deadline.Verdict, r Rules, now time.Time) (Watch, *Draft) {
	if v.Night <= w.Inspected || !nightOver(v.Night, r.Zone, now) {
		return w, nil
	}
	return inspected(w, v.Night)
}

// seeIssue counts an issue once, however often it is judged.
func seeIssue(w Watch, v deadline.Verdict) (Watch, bool) {
	issued, ok := w.Issued.Get()
	fresh := !ok || v.Forecast.Issued.After(issued)
	if fresh {
		w.Issued = unit.Some(v.Forecast.Issued)
	}
	return w, fresh
}

// nightOver is true from two hours before noon after the night: it is light and
// the frost has shown.
func nightOver(night farm.Day, zone *time.Location, now time.Time) bool {
	return night != "" && !now.Before(night.Add(1).Noon(zone).Add(-2*time.Hour))
}

func inspected(w Watch, night farm.Day) (Watch, *Draft) {
	w = w.closed()
	w.Revision++
	w.Inspected = max(w.Inspected, night)
	return w, &Draft{Kind: Inspect, Night: night, Revision: w.Revision, Why: "the night has been"}
}

func first(w Watch, v deadline.Verdict, r Rules, now time.Time) (Watch, *Draft) {
	why := due(v, r, now)
	if why == "" || v.Night <= w.Inspected || w.Gone && v.State == deadline.TooLate {
		return w, nil
	}
	return told(w, v, now, HarvestBefore, why)
}

// due gives the rule by which a bed must be told now; empty: not yet.
func due(v deadline.Verdict, r Rules, now time.Time) string {
	switch v.State {
	case deadline.TooLate:
		return "no workable window is left before the night"
	case deadline.HarvestBefore:
	default:
		return ""
	}
	by, ok := v.HarvestBefore.Get()
	if !ok {
		return ""
	}
	if by.Sub(now) <= r.Lead {
		return "the deadline is within the lead time"
	}
	if p, ok := v.Likelihood.Get(); ok && p >= SureEnough {
		return "the loss is likely"
	}
	if lastRemaining(v, by) {
		return "no later workable window remains"
	}
	return ""
}

// lastRemaining tells whether the first window left is also the last before the
// deadline, which may cut it short.
func lastRemaining(v deadline.Verdict, by time.Time) bool {
	n := 0
	for _, w := range v.Windows {
		if w.Start.Before(by) {
			n++
		}
	}
	return n <= 1
}

func told(w Watch, v deadline.Verdict, now time.Time, kind Kind, why string) (Watch, *Draft) {
	d := &Draft{Kind: kind, Night: v.Night, Revision: w.Revision + 1, Why: why}
	if kind == Moved {
		d.Before = w.Deadline
	}
	return Watch{
		Open: true, NoticeID: w.NoticeID, Night: v.Night, Deadline: v.HarvestBefore, LastWindow: v.LastWindow,
		ToldAt: unit.Some(now), Revision: w.Revision + 1, Issued: w.Issued, Inspected: w.Inspected,
		Cause: v.Cause, Gone: v.State == deadline.TooLate, Left: unit.Some(v.SoldLeft),
	}, d
}

func change(w Watch, v deadline.Verdict, r Rules, now time.Time, fresh bool) (Watch, *Draft) {
	if v.State == deadline.Holds {
		return easing(w, cleared(v), fresh)
	}
	w.LowIssues = 0
	if v.State == deadline.TooLate {
		return overtaken(w, v, now)
	}
	by, ok := v.HarvestBefore.Get()
	if !ok {
		return w, nil
	}
	was, ok := w.Deadline.Get()
	if !ok {
		return told(w, v, now, Moved, "a workable window has opened")
	}
	if now.Before(was) {
		w.Awaits = v.Night
	}
	return moved(w, v, r, now, by.Sub(was), fresh)
}

// moved tells a deadline that has come nearer at once. One that has moved away
// is told after two successive issues, like standing down: far nights come and
// go, and who was told the earlier time is on the safe side meanwhile.
func moved(w Watch, v deadline.Verdict, r Rules, now time.Time, by time.Duration, fresh bool) (Watch, *Draft) {
	switch {
	case -by >= r.MovedStep:
		return told(w, v, now, Moved, "the deadline came nearer by "+(-by).String())
	case by < r.MovedStep:
		if fresh {
			w.LaterIssues = 0
		}
		return w, nil
	}
	if fresh {
		w.LaterIssues++
	}
	if w.LaterIssues < 2 {
		return w, nil
	}
	return told(w, v, now, Moved, "the deadline moved away by "+by.String()+", in two issues in a row")
}

// easing stands down after two successive issues under half of C/L.
func easing(w Watch, low, fresh bool) (Watch, *Draft) {
	if fresh {
		w.LaterIssues = 0
	}
	if !low {
		if fresh {
			w.LowIssues = 0
		}
		return w, nil
	}
	if fresh {
		w.LowIssues++
	}
	if w.LowIssues < 2 {
		return w, nil
	}
	d := &Draft{Kind: StandDown, Night: w.Night, Revision: w.Revision + 1, Before: w.Deadline, Why: "two issues in a row under half of the cost-loss ratio"}
	w = w.closed()
	w.Revision++
	return w, d
}

// overtaken: the danger now comes before any window, though a deadline that has
// not passed was told.
func overtaken(w Watch, v deadline.Verdict, now time.Time) (Watch, *Draft) {
	was, ok := w.Deadline.Get()
	if !ok || !now.Before(was) {
		return w, nil
	}
	return told(w, v, now, Moved, "no workable window is left")
}

// lastCall goes out for the window that the newest forecast leaves; where that
// has eased without clearing the bed, for the one told last.
func lastCall(w Watch, v deadline.Verdict, now time.Time, answered bool) (Watch, *Draft) {
	if v.State == deadline.TooLate || cleared(v) {
		return w, nil
	}
	win, ok := w.LastWindow.Get()
	if newest, has := v.LastWindow.Get(); has {
		win, ok = newest, true
	}
	told, wasTold := w.ToldAt.Get()
	switch {
	case !ok || answered || w.LastCalled:
		return w, nil
	case now.Before(win.Start.Add(-lastCallAhead)) || !now.Before(win.End):
		return w, nil
	case wasTold && now.Sub(told) < freshFor && told.After(win.Start.Add(-freshFor)):
		return w, nil
	}
	w.LastCalled = true
	w.Revision++
	return w, &Draft{Kind: LastCall, Night: w.Night, Revision: w.Revision, Before: w.Deadline, Why: "the last workable window is opening and nobody has answered"}
}
