package notice

import (
	"time"

	"winterstand/internal/farm"
)

// change is why what was told of an open event no longer stands, or that it does.
// It counts the issues that agree.
func (m *Moment) change(fresh bool) Reason {
	v := m.Verdict
	if v.State == farm.Holds {
		return m.easing(fresh)
	}
	m.Event.LowIssues = 0
	was, told := m.Event.Deadline.Get()
	if v.State == farm.TooLate {
		if told && m.Now.Before(was) {
			return WindowsClosed
		}
		return SaidTooLate
	}
	by, ok := v.HarvestBefore.Get()
	switch {
	case !ok:
		return Unchanged
	case !told:
		return WindowOpened
	}
	away := by.Sub(was)
	if away.Abs() < m.Rules.MovedStep && m.Now.Before(was) {
		m.Event.Awaits = v.Night
	}
	return m.moved(away, fresh)
}

// moved: a deadline that has come nearer is told at once. One that has moved away
// is told like standing down: far nights come and go, and who was told the
// earlier time is on the safe side meanwhile.
func (m *Moment) moved(away time.Duration, fresh bool) Reason {
	switch {
	case -away >= m.Rules.MovedStep:
		return CameNearer
	case away < m.Rules.MovedStep || !m.low():
		if fresh {
			m.Event.LaterIssues = 0
		}
		return Unchanged
	}
	if fresh {
		m.Event.LaterIssues++
	}
	if m.Event.LaterIssues < agreeing {
		return Waiting
	}
	return MovedAway
}

// agreeing is how many successive issues must agree before a danger is taken back.
const agreeing = 2

// easing stands down after successive issues under half of C/L.
func (m *Moment) easing(fresh bool) Reason {
	if fresh {
		m.Event.LaterIssues = 0
	}
	if !m.low() {
		if fresh {
			m.Event.LowIssues = 0
		}
		return Unchanged
	}
	if fresh {
		m.Event.LowIssues++
	}
	if m.Event.LowIssues < agreeing {
		return Waiting
	}
	return DangerGone
}

// lastCall is why the last call goes out or not: for the window that the newest
// forecast leaves; where that has eased, but the night that was told is not
// clear, for the one told last.
func (m Moment) lastCall() Reason {
	v, low := m.Verdict, m.low()
	if v.State == farm.TooLate || v.State == farm.Holds && low {
		return Unchanged
	}
	win, ok := m.Event.LastWindow.Get()
	if newest, has := v.LastWindow.Get(); has && (low || newest.End.Sub(win.End) < m.Rules.MovedStep) {
		win, ok = newest, true
	}
	if !ok || m.Now.Before(win.Start.Add(-lastCallAhead)) || !m.Now.Before(win.End) {
		return Unchanged
	}
	told, known := m.Event.ToldAt.Get()
	switch {
	case m.Answered:
		return Answered
	case m.Event.Phase == farm.Called:
		return CalledAlready
	case known && m.Now.Sub(told) < freshFor && told.After(win.Start.Add(-freshFor)):
		return ToldJustNow
	}
	return LastWindow
}
