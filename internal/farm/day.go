package farm

import (
	"fmt"
	"time"
)

// Day is a calendar day in a field's own zone, written 2006-01-02. A night is
// named by the Day on which it begins: the night of 14 November runs from noon
// on the 14th to noon on the 15th, local time.
type Day string

// ParseDay reads 2006-01-02.
func ParseDay(s string) (Day, error) {
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		return "", fmt.Errorf("day %q: must be a calendar date like 2026-11-14", s)
	}
	return Day(s), nil
}

// DayOf is the local day of an instant.
func DayOf(t time.Time, zone *time.Location) Day { return Day(t.In(zone).Format(time.DateOnly)) }

// NightOf is the night an instant belongs to: before local noon, the night that
// began the day before.
func NightOf(t time.Time, zone *time.Location) Day {
	l := t.In(zone)
	if l.Hour() < 12 {
		return DayOf(l, zone).Add(-1) // by the calendar: the same clock time may not exist the day before
	}
	return DayOf(l, zone)
}

// Noon is the instant a night begins.
func (d Day) Noon(zone *time.Location) time.Time { return d.at(zone, 12) }

// Start is the first instant of the day, in some zones 1 o'clock on the day their
// clock is put forward at midnight.
func (d Day) Start(zone *time.Location) time.Time {
	t := d.at(zone, 0)
	if _, next := t.ZoneBounds(); !t.IsZero() && DayOf(t, zone) < d {
		return next
	}
	return t
}

func (d Day) at(zone *time.Location, hour int) time.Time {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return time.Time{}
	}
	return time.Date(t.Year(), t.Month(), t.Day(), hour, 0, 0, 0, zone)
}

// Add is the day n days later.
func (d Day) Add(n int) Day {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return ""
	}
	return Day(t.AddDate(0, 0, n).Format(time.DateOnly))
}
