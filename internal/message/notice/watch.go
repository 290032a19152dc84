package notice

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/verdict"
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
	Open        bool                       `json:"open"`
	NoticeID    int64                      `json:"notice_id,omitempty"` // the first of the event
	Night       farm.Day                   `json:"night,omitempty"`     // as told last
	Deadline    unit.Maybe[time.Time]      `json:"deadline,omitzero"`   // as told last; missing: told too late
	LastWindow  unit.Maybe[verdict.Window] `json:"last_window,omitzero"`
	ToldAt      unit.Maybe[time.Time]      `json:"told_at,omitzero"`
	Revision    int                        `json:"revision"`        // of the last notice; never goes back
	LowIssues   int                        `json:"low_issues"`      // successive issues under half of C/L
	LaterIssues int                        `json:"later_issues"`    // successive issues with a later deadline
	Issued      unit.Maybe[time.Time]      `json:"issued,omitzero"` // of the forecast judged last
	LastCalled  bool                       `json:"last_called,omitempty"`
	Inspected   farm.Day                   `json:"inspected,omitempty"` // the last night asked about
	Awaits      farm.Day                   `json:"awaits,omitempty"`    // the night by the newest forecast, while the deadline has not passed
	Cause       verdict.Cause              `json:"cause,omitempty"`     // as told last
	Left        unit.Maybe[float64]        `json:"left,omitzero"`       // market quality left when the event was told
	Gone        bool                       `json:"gone,omitempty"`      // told too late: nothing more to say until a window or relief comes
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
// window opens or the danger goes; moved from the farm's step on, away only after
// two successive issues in which the night that was told is under half of C/L, and
// stood down likewise; a last call when the last window opens unanswered; an inspection asked for when a night has been that may have
// done harm.
func Next(w Watch, v verdict.Verdict, r Rules, now time.Time, answered, muted bool) (Watch, *Draft) {
	switch {
	case v.NothingLeft:
		return w.closed(), nil
	case w.Open && nightOver(w.ends(), r.Zone, now):
		return over(w, v)
	case v.AlreadyLost:
		return lost(w, v, r, now)
	case v.State == verdict.Unknown || muted:
		return w, nil
	}
	w, fresh := seeIssue(w, v)
	if v.State == verdict.HarvestBefore || cleared(v) {
		w.Gone = false
	}
	if !w.Open {
		return first(w, v, r, now)
	}
	w, d := change(w, v, r, now, fresh)
	if d != nil || !w.Open {
		return w, d
	}
	return lastCall(w, v, r, now, answered)
}

// low: the night that was told is under half of what it takes to act. Later
// nights do not count here: far ahead, hardly a forecast is sure enough of them.
func (w Watch) low(v verdict.Verdict) bool {
	p, known := v.Likelihood.Get()
	for _, n := range v.Nights {
		if n.Night == w.ends() && w.Cause != verdict.GroundFrozen {
			p, known = n.Likelihood, true
		}
	}
	return known && p < v.CostLoss/2
}

// cleared: the danger is under half of what it takes to act.
func cleared(v verdict.Verdict) bool {
	p, known := v.Likelihood.Get()
	return v.State == verdict.Holds && known && p < v.CostLoss/2
}

// over ends an event with its night. Ground that froze shut has hurt nothing
// yet, so there is nothing to look at, and no more to say while it stays shut; a
// night that by the model did no harm is stood down, unless the next danger is in
// sight already.
func over(w Watch, v verdict.Verdict) (Watch, *Draft) {
	switch {
	case w.Cause == verdict.GroundFrozen:
		w.Gone = w.Gone || v.State == verdict.TooLate
	case !harmless(w, v):
		return inspected(w, w.ends())
	case v.State == verdict.Holds:
		d := &Draft{Kind: StandDown, Night: w.ends(), Revision: w.Revision + 1, Passed: true, Why: "the night has been and by the model did no harm"}
		w = w.closed()
		w.Revision++
		return w, d
	}
	return w.closed(), nil
}

// leastHarm is the share of market quality from whose loss on people are asked
// to look; own default, well under what anyone can see.
const leastHarm = 0.02

// harmless: the model saw the night, and next to nothing was lost in it. What is
// kept for its crown is always worth a look.
func harmless(w Watch, v verdict.Verdict) bool {
	left, known := w.Left.Get()
	return known && w.Cause != verdict.CrownFreeze && v.State != verdict.Unknown && !v.AlreadyLost && v.SoldLeft > left-leastHarm
}

// lost: by the model a night took it. That is asked about once, when it is light.
func lost(w Watch, v verdict.Verdict, r Rules, now time.Time) (Watch, *Draft) {
	if v.Night <= w.Inspected || !nightOver(v.Night, r.Zone, now) {
		return w, nil
	}
	return inspected(w, v.Night)
}

// seeIssue counts an issue once, however often it is judged.
func seeIssue(w Watch, v verdict.Verdict) (Watch, bool) {
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
