package notice

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// SureEnough is the likelihood from which a notice goes out however far off the
// deadline lies; own default.
const SureEnough = 0.6

// lastCallAhead is how long before the last window opens the last call goes out;
// own default.
const lastCallAhead = 2 * time.Hour

// freshFor: a bed told this recently needs no last call on top; own default.
const freshFor = 8 * time.Hour

// Rules are the farm's settings that decide when something is told.
type Rules struct {
	Lead      time.Duration
	MovedStep time.Duration
	Zone      *time.Location
}

// Moment is what a round knows of one bed when it decides.
type Moment struct {
	Event    farm.Event
	Verdict  farm.Verdict
	Rules    Rules
	Now      time.Time
	Answered bool // somebody has answered the open event
	Muted    bool // the grower leaves the bed for this night
}

// Decision is what came of a moment: the event as it is now, why, and the notice
// that is due, if one is.
type Decision struct {
	Event  farm.Event
	Reason Reason
	Draft  *Draft
}

// Draft is a notice that is due.
type Draft struct {
	Kind     Kind
	Night    farm.Day
	Revision int
	Before   unit.Maybe[time.Time] // the deadline told last
	Why      Reason
}

// Passed tells whether it stands down after a night that did no harm.
func (d Draft) Passed() bool { return d.Why == NightHarmless }

// Next decides, for one bed, what is due now: at most one notice, by one reason
// and one row of Moves.
//
// Rules (own): told when the deadline is within the lead, or no later workable
// window remains, or the loss is likely enough; too late is told once, until a
// window opens or the danger goes; moved from the farm's step on, away only after
// two successive issues in which the night that was told is under half of C/L, and
// stood down likewise; a last call when the last window opens unanswered; an
// inspection asked for when a night has been that may have done harm.
func Next(m Moment) Decision {
	v := m.Verdict
	switch {
	case v.NothingLeft:
		return m.because(NothingLeft)
	case m.Event.Phase.Open() && nightOver(m.Event.Ends(), m.Rules.Zone, m.Now):
		return m.over()
	case v.AlreadyLost:
		return m.lost()
	case v.State == farm.Unknown:
		return m.because(CannotSee)
	case m.Muted:
		return m.because(LeftAlone)
	}
	fresh := m.seeIssue()
	if v.State == farm.HarvestBefore || m.clear() {
		m.Event = m.because(Relief).Event
	}
	if !m.Event.Phase.Open() {
		return m.because(m.first())
	}
	reason := m.change(fresh)
	if _, moves := moveOf(m.Event.Phase, reason); moves {
		return m.because(reason)
	}
	if call := m.lastCall(); call != Unchanged {
		return m.because(call)
	}
	return m.because(reason)
}

// because carries out the row of Moves for a reason; without one nothing moves.
func (m Moment) because(why Reason) Decision {
	row, ok := moveOf(m.Event.Phase, why)
	if !ok {
		return Decision{Event: m.Event, Reason: why}
	}
	d := Decision{Event: m.following(row), Reason: why}
	if row.Sends == "" {
		return d
	}
	d.Event.Revision++
	d.Draft = &Draft{Kind: row.Sends, Night: m.night(row), Revision: d.Event.Revision, Before: m.before(row), Why: why}
	if row.Sends == Inspect {
		d.Event.Inspected = max(d.Event.Inspected, d.Draft.Night)
	}
	return d
}

// following is the event after a row.
func (m Moment) following(row Move) farm.Event {
	switch {
	case row.Sends == HarvestBefore || row.Sends == Moved:
		return m.telling(row.To)
	case !row.To.Open():
		return m.Event.Closed(row.To)
	}
	e := m.Event
	e.Phase = row.To
	return e
}

// telling is an event of which the verdict has just been told.
func (m Moment) telling(to farm.Phase) farm.Event {
	v := m.Verdict
	return farm.Event{
		Phase: to, NoticeID: m.Event.NoticeID, Night: v.Night, Awaits: v.Night, Deadline: v.HarvestBefore, LastWindow: v.LastWindow,
		ToldAt: unit.Some(m.Now), Revision: m.Event.Revision, Issued: m.Event.Issued, Inspected: m.Event.Inspected,
		Cause: v.Cause, Left: unit.Some(v.SoldLeft),
	}
}

// night that a notice is about.
func (m Moment) night(row Move) farm.Day {
	switch {
	case row.Sends == HarvestBefore || row.Sends == Moved || row.For == NightTook:
		return m.Verdict.Night
	case row.For == NightBeen || row.For == NightHarmless:
		return m.Event.Ends()
	}
	return m.Event.Night
}

// before is the deadline told last, where a notice takes it back or repeats it.
func (m Moment) before(row Move) unit.Maybe[time.Time] {
	switch row.For {
	case CameNearer, MovedAway, WindowOpened, WindowsClosed, LastWindow, DangerGone:
		return m.Event.Deadline
	}
	return unit.None[time.Time]()
}

// seeIssue counts an issue once, however often it is judged.
func (m *Moment) seeIssue() (fresh bool) {
	issued, ok := m.Event.Issued.Get()
	fresh = !ok || m.Verdict.Forecast.Issued.After(issued)
	if fresh {
		m.Event.Issued = unit.Some(m.Verdict.Forecast.Issued)
	}
	return fresh
}

// clear: no deadline, and the danger is under half of what it takes to act.
func (m Moment) clear() bool {
	p, known := m.Verdict.Likelihood.Get()
	return m.Verdict.State == farm.Holds && known && p < m.Verdict.CostLoss/2
}

// low: the night that was told is under half of what it takes to act. Later
// nights do not count here: far ahead, hardly a forecast is sure enough of them.
func (m Moment) low() bool {
	p, known := m.Verdict.Likelihood.Get()
	for _, n := range m.Verdict.Nights {
		if n.Night == m.Event.Ends() && m.Event.Cause != farm.GroundFrozen {
			p, known = n.Likelihood, true
		}
	}
	return known && p < m.Verdict.CostLoss/2
}

// nightOver is true from two hours before noon after the night: it is light and
// the frost has shown.
func nightOver(night farm.Day, zone *time.Location, now time.Time) bool {
	return night != "" && !now.Before(night.Add(1).Noon(zone).Add(-2*time.Hour))
}
