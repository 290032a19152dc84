package page

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"winterstand/internal/farm"
)

// hoursRule draws the time from now to a deadline as a rule: a block where it can be
// harvested, a stroke at each midnight, a flag at the end. The hours beside it
// say the same in words, so it is hidden from those who listen.
func hoursRule(now, by time.Time, zone *time.Location, windows []farm.Window) template.HTML {
	span := by.Sub(now)
	if span <= 0 {
		return ""
	}
	x := func(t time.Time) float64 { return 1000 * float64(t.Sub(now)) / float64(span) }
	var b strings.Builder
	b.WriteString(`<svg class="strip" viewBox="0 0 1000 20" preserveAspectRatio="none" aria-hidden="true" focusable="false"><path d="M0 13h1000v2H0z`)
	for _, w := range windows {
		from, to := x(w.Start), x(w.End)
		fmt.Fprintf(&b, "M%.0f 5h%.0fv10h-%.0fz", from, to-from, to-from)
	}
	for d := farm.DayOf(now, zone).Add(1); d.Start(zone).Before(by); d = d.Add(1) {
		fmt.Fprintf(&b, "M%.0f 13h2v7h-2z", x(d.Start(zone)))
	}
	b.WriteString(`M996 0h4v20h-4z"/></svg>`)
	return template.HTML(b.String()) // numbers only
}
