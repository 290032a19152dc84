package supply

import (
	"time"

	"winterstand/internal/farm"
)

// Week is seven days from Monday; the first begins today and may be shorter.
type Week struct {
	Start farm.Day `json:"start"`
	End   farm.Day `json:"end"` // exclusive
	Gap   bool     `json:"spring_gap"`
}

// Gap is the months in which little new is ready: about March to June in a cold
// northern climate (common practice, no source), half a year later in the south.
type Gap struct {
	From, To time.Month // inclusive
}

// The two gaps.
var (
	NorthernGap = Gap{time.March, time.June}
	SouthernGap = Gap{time.September, time.December}
)

// GapAt is the spring gap at a latitude in degrees, south negative.
func GapAt(latitude float64) Gap {
	if latitude < 0 {
		return SouthernGap
	}
	return NorthernGap
}

// holds tells whether the gap has begun on a day and not ended.
func (g Gap) holds(d farm.Day) bool {
	m := month(d)
	return m >= g.From && m <= g.To
}

func month(d farm.Day) time.Month { return d.Noon(time.UTC).Month() }

// end is the last day of the gap that a day lies in or looks ahead to.
func (g Gap) end(today farm.Day) farm.Day {
	t := today.Noon(time.UTC)
	year := t.Year()
	if t.Month() > g.To {
		year++
	}
	return farm.DayOf(time.Date(year, g.To+1, 0, 12, 0, 0, 0, time.UTC), time.UTC)
}

// calendar cuts the days from today to the last into weeks.
func (in Input) calendar() []Week {
	start := farm.DayOf(in.Now, in.Zone)
	var out []Week
	for start <= in.Until {
		end := start.Add(8 - isoWeekday(start))
		if last := in.Until.Add(1); end > last {
			end = last
		}
		out = append(out, Week{start, end, in.Gap.holds(start)})
		start = end
	}
	return out
}

func isoWeekday(d farm.Day) int {
	return (int(d.Noon(time.UTC).Weekday())+6)%7 + 1
}

// overlap is how many days of a want fall into a week.
func (w Week) overlap(from, to farm.Day) int {
	n := 0
	for d := w.Start; d < w.End; d = d.Add(1) {
		if d >= from && (to == "" || d <= to) {
			n++
		}
	}
	return n
}
