package announce

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
)

// leastWindow is the work that must still fit after quiet hours, else they are
// broken; own default.
const leastWindow = 2.0 // hours

// leaveAt is when a message with these notices leaves: now, or at the latest end
// of the recipient's quiet hours where every notice can wait that long. Notices
// of fields in several zones see those hours end at several times.
func leaveAt(to farm.Recipient, ns []Addressed, now time.Time) time.Time {
	until := now
	for _, n := range ns {
		if end, in := QuietEnd(to, n.Zone, now); in && end.After(until) {
			until = end
		}
	}
	for _, n := range ns {
		if _, in := QuietEnd(to, n.Zone, now); !in || !n.waits(until) {
			return now
		}
	}
	return until
}

// waits tells whether a notice can be read as late as an instant without its
// deadline being eaten.
func (n Addressed) waits(until time.Time) bool {
	by, ok := n.Notice.HarvestBefore.Get()
	if !ok {
		return !notice.Urgent(n.Notice.Kind)
	}
	left := 0.0
	for _, w := range n.Windows {
		if w.Start.Before(until) {
			w.Start = until
		}
		if w.End.After(by) {
			w.End = by
		}
		left += max(0, w.Hours())
	}
	return left >= leastWindow
}

// QuietEnd is the end of the quiet hours that now lies in.
func QuietEnd(to farm.Recipient, zone *time.Location, now time.Time) (time.Time, bool) {
	from, okFrom := clock(to.QuietFrom)
	until, okTo := clock(to.QuietTo)
	if !okFrom || !okTo || from == until {
		return now, false
	}
	l := now.In(zone)
	minute := l.Hour()*60 + l.Minute()
	inside := from < until && minute >= from && minute < until || from > until && (minute >= from || minute < until)
	if !inside {
		return now, false
	}
	end := time.Date(l.Year(), l.Month(), l.Day(), until/60, until%60, 0, 0, zone)
	if !end.After(now) {
		end = time.Date(l.Year(), l.Month(), l.Day()+1, until/60, until%60, 0, 0, zone)
	}
	return end.UTC(), true
}

// clock is minutes since midnight of "15:04".
func clock(s string) (int, bool) {
	t, err := time.Parse("15:04", s)
	return t.Hour()*60 + t.Minute(), err == nil
}
