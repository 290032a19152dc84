package archive

import (
	"slices"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// lesson is one forecast low with what came, known from a morning on.
type lesson struct {
	morning          farm.Day
	lead             int
	issued, observed unit.Celsius
	usual            unit.Celsius
}

// lessons are those of a station in order of time; a season walks through them.
type lessons struct {
	all    []lesson
	next   int
	worth  verdict.Verified
	active bool
}

// teach gives every season the station's lessons, those before it learned.
func teach(winters []*winter, s Station) {
	observed := map[farm.Day]unit.Maybe[unit.Celsius]{}
	for _, d := range s.Days {
		observed[d.Date] = d.Min
	}
	usual := weatherfile.RangeOf(s.Days)
	var all []lesson
	for _, l := range s.Lows {
		was, ok := observed[l.Morning].Get()
		c, okUsual := usual.Low(l.Morning)
		if ok && okUsual {
			all = append(all, lesson{morning: l.Morning, lead: l.LeadDays, issued: l.Low, observed: was, usual: c})
		}
	}
	slices.SortStableFunc(all, func(a, b lesson) int { return strings.Compare(string(a.morning), string(b.morning)) })
	for _, w := range winters {
		w.taught = lessons{all: all, active: true}
		w.taught.until(w.start)
	}
}

// until learns from the mornings before a day.
func (t *lessons) until(day farm.Day) {
	for ; t.next < len(t.all) && t.all[t.next].morning < day; t.next++ {
		l := t.all[t.next]
		t.worth.Learn(l.lead, l.issued, l.observed, l.usual)
	}
}

// corrected is an issue with the minima to expect instead of those issued.
func (t *lessons) corrected(is issue, w *winter) issue {
	if !t.active {
		return is
	}
	today := farm.DayOf(is.at, w.opt.Zone)
	t.until(today)
	out := issue{at: is.at, lows: map[farm.Day]unit.Celsius{}}
	for morning, low := range is.lows {
		if usual, ok := w.usual.Low(morning); ok && morning > today {
			low = t.worth.Expect(daysFrom(today, morning), low, usual)
		}
		out.lows[morning] = low
	}
	return out
}

// scale brings the members' errors to what is left of them.
func (t *lessons) scale(members []bed.Member, hours []weather.Hour, issued time.Time) {
	if !t.active {
		return
	}
	for h := range hours {
		share := unit.Kelvins(t.worth.Ratio(1 + int(hours[h].At.Sub(issued)/(24*time.Hour))))
		for m := range members {
			members[m].Error[h] *= share
		}
	}
}

func daysFrom(a, b farm.Day) int {
	return int(b.Start(time.UTC).Sub(a.Start(time.UTC)) / (24 * time.Hour))
}
