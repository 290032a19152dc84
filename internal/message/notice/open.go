package notice

import (
	"time"

	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
)

func first(w Watch, v verdict.Verdict, r Rules, now time.Time) (Watch, *Draft) {
	why := due(v, r, now)
	if why == "" || v.Night <= w.Inspected || w.Gone && v.State == verdict.TooLate {
		return w, nil
	}
	return told(w, v, now, HarvestBefore, why)
}

// due gives the rule by which a bed must be told now; empty: not yet.
func due(v verdict.Verdict, r Rules, now time.Time) string {
	switch v.State {
	case verdict.TooLate:
		return "no workable window is left before the night"
	case verdict.HarvestBefore:
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
func lastRemaining(v verdict.Verdict, by time.Time) bool {
	n := 0
	for _, w := range v.Windows {
		if w.Start.Before(by) {
			n++
		}
	}
	return n <= 1
}

func told(w Watch, v verdict.Verdict, now time.Time, kind Kind, why string) (Watch, *Draft) {
	d := &Draft{Kind: kind, Night: v.Night, Revision: w.Revision + 1, Why: why}
	if kind == Moved {
		d.Before = w.Deadline
	}
	return Watch{
		Open: true, NoticeID: w.NoticeID, Night: v.Night, Awaits: v.Night, Deadline: v.HarvestBefore, LastWindow: v.LastWindow,
		ToldAt: unit.Some(now), Revision: w.Revision + 1, Issued: w.Issued, Inspected: w.Inspected,
		Cause: v.Cause, Gone: v.State == verdict.TooLate, Left: unit.Some(v.SoldLeft),
	}, d
}

func change(w Watch, v verdict.Verdict, r Rules, now time.Time, fresh bool) (Watch, *Draft) {
	if v.State == verdict.Holds {
		return easing(w, w.low(v), fresh)
	}
	w.LowIssues = 0
	if v.State == verdict.TooLate {
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
	away := by.Sub(was)
	if away.Abs() < r.MovedStep && now.Before(was) {
		w.Awaits = v.Night
	}
	return moved(w, v, r, now, away, fresh)
}

// moved tells a deadline that has come nearer at once. One that has moved away
// is told like standing down: far nights come and go, and who was told the
// earlier time is on the safe side meanwhile.
func moved(w Watch, v verdict.Verdict, r Rules, now time.Time, by time.Duration, fresh bool) (Watch, *Draft) {
	switch {
	case -by >= r.MovedStep:
		return told(w, v, now, Moved, "the deadline came nearer by "+(-by).String())
	case by < r.MovedStep || !w.low(v):
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
	w.Gone = false
	return w, d
}

// overtaken: the danger now comes before any window, though a deadline that has
// not passed was told.
func overtaken(w Watch, v verdict.Verdict, now time.Time) (Watch, *Draft) {
	was, ok := w.Deadline.Get()
	if !ok || !now.Before(was) {
		return w, nil
	}
	return told(w, v, now, Moved, "no workable window is left")
}

// lastCall goes out for the window that the newest forecast leaves; where that
// has eased, but the night that was told is not clear, for the one told last.
func lastCall(w Watch, v verdict.Verdict, r Rules, now time.Time, answered bool) (Watch, *Draft) {
	low := w.low(v)
	if v.State == verdict.TooLate || v.State == verdict.Holds && low {
		return w, nil
	}
	win, ok := w.LastWindow.Get()
	if newest, has := v.LastWindow.Get(); has && (low || newest.End.Sub(win.End) < r.MovedStep) {
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
