package lifting

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"winterstand/internal/farm"
)

// Windows lists the crew time of a farm's weekly shifts between two instants, in
// order. Shifts are clock times of the farm's zone: on the day the clocks change
// a shift is an hour shorter or longer if the change falls into it. A window
// that has begun is cut at `from`.
func Windows(shifts []farm.Shift, zone *time.Location, from, to time.Time) ([]Window, error) {
	var out []Window
	for d := farm.DayOf(from, zone); !d.Start(zone).After(to); d = d.Add(1) {
		for n, s := range shifts {
			w, on, err := shiftOn(s, d, zone)
			if err != nil {
				return nil, fmt.Errorf("crew entry %d: %w", n+1, err)
			}
			if w.Start.Before(from) {
				w.Start = from
			}
			if w.End.After(to) {
				w.End = to
			}
			if on && w.End.After(w.Start) {
				out = append(out, w)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Window) int { return a.Start.Compare(b.Start) })
	return out, nil
}

// shiftOn is a shift on one day, and whether the shift falls on that weekday.
func shiftOn(s farm.Shift, d farm.Day, zone *time.Location) (Window, bool, error) {
	if !slices.Contains([]string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}, s.Day) {
		return Window{}, false, fmt.Errorf("day %q: must be mon, tue, wed, thu, fri, sat or sun", s.Day)
	}
	from, err := clock(s.From, d, zone)
	if err != nil {
		return Window{}, false, err
	}
	to, err := clock(s.To, d, zone)
	if err != nil {
		return Window{}, false, err
	}
	if !(s.To > s.From) || !within(s.People) {
		return Window{}, false, fmt.Errorf("%s to %s, %g people: must end later the same day, with 0 people or more", s.From, s.To, s.People)
	}
	weekday := strings.ToLower(d.Noon(zone).Weekday().String()[:3])
	return Window{Span{from, to}, s.People}, weekday == s.Day, nil
}

func clock(hhmm string, d farm.Day, zone *time.Location) (time.Time, error) {
	c, err := time.Parse("15:04", hhmm)
	if err != nil || len(hhmm) != 5 {
		return time.Time{}, fmt.Errorf("time %q: must be a clock time like 08:30", hhmm)
	}
	day := d.Start(zone)
	return time.Date(day.Year(), day.Month(), day.Day(), c.Hour(), c.Minute(), 0, 0, zone), nil
}

// Rates of lifting for one person, kg per hour, where a grower has given none:
// our own defaults, to be replaced by what the crew really does. Roots come up
// by the fork and are topped; leaves are cut and bunched.
var defaultRates = map[string]float64{
	"root": 40, "cole": 40, "fruit": 30, "allium": 30, "leaf": 12, "legume": 8, "herb": 6,
}

// DefaultRate is the rate for a crop family of the catalogue; the slowest where
// the family is not one of them, which is the safe side.
func DefaultRate(family string) float64 {
	if r, ok := defaultRates[family]; ok {
		return r
	}
	return defaultRates["herb"]
}
