package notice

import (
	"time"

	"winterstand/internal/farm"
)

// first is why a bed of which nothing is open is told of now, or is not.
func (m Moment) first() Reason {
	why, due := m.due()
	switch {
	case !due:
		return why
	case m.Verdict.Night <= m.Event.Inspected:
		return AskedAlready
	case m.Event.Phase == farm.Spent && m.Verdict.State == farm.TooLate:
		return SaidTooLate
	}
	return why
}

// due is the rule by which a bed must be told now, or why not yet.
func (m Moment) due() (Reason, bool) {
	v := m.Verdict
	by, known := v.HarvestBefore.Get()
	p, judged := v.Likelihood.Get()
	switch {
	case v.State == farm.TooLate:
		return NoWindow, true
	case v.State != farm.HarvestBefore || !known:
		return Stands, false
	case by.Sub(m.Now) <= m.Rules.Lead:
		return WithinLead, true
	case judged && p >= SureEnough:
		return LossLikely, true
	case lastRemaining(v, by):
		return OnlyWindow, true
	}
	return NotYet, false
}

// lastRemaining tells whether the first window left is also the last before the
// deadline, which may cut it short.
func lastRemaining(v farm.Verdict, by time.Time) bool {
	n := 0
	for _, w := range v.Windows {
		if w.Start.Before(by) {
			n++
		}
	}
	return n <= 1
}
