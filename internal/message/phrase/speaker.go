package phrase

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Speaker says things to one reader: their language, units and zone.
type Speaker struct {
	Book     *Book
	Language string
	Units    unit.System
	Zone     *time.Location
	Plain    bool // GSM 7-bit: no degree sign
}

// Say fills a phrase in the reader's language.
func (s Speaker) Say(key string, args Args) string { return s.Book.Say(s.Language, key, args) }

// Temperature in the reader's units.
func (s Speaker) Temperature(c unit.Celsius) string {
	if s.Plain {
		return s.Units.PlainTemperature(c)
	}
	return s.Units.Temperature(c)
}

// Clock is a local time of day with its zone: "4:30 pm CST", "16:30 CET".
func (s Speaker) Clock(t time.Time) string {
	l := t.In(s.Zone)
	layout := "15:04"
	if s.Units == unit.US {
		layout = "3:04 pm"
	}
	return l.Format(layout) + " " + zoneName(l)
}

func zoneName(l time.Time) string {
	name, _ := l.Zone()
	if strings.HasPrefix(name, "+") || strings.HasPrefix(name, "-") {
		return "UTC" + name
	}
	return name
}

// Date is weekday and date without the year: "Thu 19 Nov".
func (s Speaker) Date(t time.Time) string {
	l := t.In(s.Zone)
	return fmt.Sprintf("%s %d %s", s.Say("day."+strings.ToLower(l.Weekday().String()[:3]), nil), l.Day(),
		s.Say("month."+strings.ToLower(l.Month().String()[:3]), nil))
}

// When is a deadline: "Thu 19 Nov 4:30 pm CST".
func (s Speaker) When(t time.Time) string { return s.Date(t) + " " + s.Clock(t) }

// Night names a night by the evening it begins.
func (s Speaker) Night(d farm.Day) string {
	return s.Say("time.night_of", Args{"date": s.Date(d.Noon(s.Zone))})
}

// Chance is a likelihood in words people weigh well: "7 in 10".
func (s Speaker) Chance(p float64) string {
	switch {
	case p < 0.02:
		return s.Say("chance.hardly", nil)
	case p < 0.075:
		return s.Say("chance.in", Args{"n": "1", "of": "20"})
	case p > 0.95:
		return s.Say("chance.nearly_sure", nil)
	}
	return s.Say("chance.in", Args{"n": strconv.Itoa(int(math.Round(p * 10))), "of": "10"})
}

// Ago is an age: "2 h", "3 days".
func (s Speaker) Ago(d time.Duration) string {
	switch {
	case d < 90*time.Minute:
		return s.Say("time.minutes", Args{"n": strconv.Itoa(int(d.Minutes()))})
	case d < 48*time.Hour:
		return s.Say("time.hours", Args{"n": strconv.Itoa(int(math.Round(d.Hours())))})
	}
	return s.Say("time.days", Args{"n": strconv.Itoa(int(math.Round(d.Hours() / 24)))})
}
