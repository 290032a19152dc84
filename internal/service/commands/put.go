package commands

import (
	"reflect"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// Required are the members without which a new entry cannot be made.
var Required = map[string][]string{
	"field":     {"name", "latitude", "longitude"},
	"bed":       {"field_id", "name", "crop"},
	"recipient": {"name"},
	"room":      {"name", "kind", "temperature_c"},
	"lot":       {"room_id", "crop", "kg", "harvested_at"},
	"reading":   {"field_id", "at", "quantity", "value"},
	"finding":   {"bed_id", "night", "lost_fraction"},
	"answer":    {"answer"},
}

// needs names every required member of a noun that the input leaves out.
func (c *check) needs(noun string, input any) {
	have := members(input)
	for _, name := range Required[noun] {
		if !have[name] && !c.spoken(name) {
			c.bad(name, "missing")
		}
	}
}

// spoken tells whether something has been said of a member already, or of the
// name that stands in for its number.
func (c *check) spoken(name string) bool {
	for _, p := range c.problems {
		if p.Field == name || p.Field+"_id" == name {
			return true
		}
	}
	return false
}

func members(input any) map[string]bool {
	have := map[string]bool{}
	v := reflect.ValueOf(input)
	for i := range v.NumField() {
		g, ok := v.Field(i).Interface().(interface{ Touched() bool })
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		have[name] = ok && g.Touched()
	}
	return have
}

// accept takes over a member that always has a value.
func accept[T, U any](c *check, field string, g Optional[T], test func(T) phrase.Line, into *U, as func(T) U) {
	v, ok := g.Get()
	if g.Cleared() {
		c.bad(field, "emptied")
	}
	if !ok {
		return
	}
	if why := test(v); !why.None() {
		c.test(field, why)
		return
	}
	*into = as(v)
}

// acceptMaybe takes over a member that may be missing; null empties it.
func acceptMaybe[T, U any](c *check, field string, g Optional[T], test func(T) phrase.Line, into *unit.Maybe[U], as func(T) U) {
	if g.Cleared() {
		*into = unit.None[U]()
		return
	}
	var v U
	before := len(c.problems)
	accept(c, field, g, test, &v, as)
	if g.Touched() && len(c.problems) == before {
		*into = unit.Some(v)
	}
}

// acceptOr takes over a member whose emptiness means a default.
func acceptOr[T, U any](c *check, field string, g Optional[T], test func(T) phrase.Line, into *U, as func(T) U, empty U) {
	if g.Cleared() {
		*into = empty
		return
	}
	accept(c, field, g, test, into, as)
}

func same[T any](v T) T { return v }

func celsius(v float64) unit.Celsius { return unit.Celsius(v) }

func kelvins(v float64) unit.Kelvins { return unit.Kelvins(v) }

func hours(v float64) time.Duration { return time.Duration(v * float64(time.Hour)) }

func day(s string) farm.Day { return farm.Day(s) }

// Names and notes end up in mail subjects and SMS: no control characters, and
// lengths that fit. Own defaults.
const (
	maxName = 80
	maxNote = 2000
)

func aName(s string) phrase.Line {
	switch {
	case strings.TrimSpace(s) == "":
		return reason("empty_name")
	case utf8.RuneCountInString(s) > maxName:
		return reason("long_name", "most", maxName)
	case strings.ContainsFunc(s, unicode.IsControl) || !utf8.ValidString(s):
		return reason("odd_name")
	}
	return fine
}

func aWord(s string) phrase.Line {
	if s == "" {
		return fine
	}
	return aName(s)
}

func aNote(s string) phrase.Line {
	control := func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' }
	switch {
	case utf8.RuneCountInString(s) > maxNote:
		return reason("long_note", "most", maxNote)
	case strings.ContainsFunc(s, control) || !utf8.ValidString(s):
		return reason("odd_note")
	}
	return fine
}

func aZone(s string) phrase.Line {
	if _, err := farm.ParseZone(s); err != nil {
		return reason("zone")
	}
	return fine
}

func aDay(s string) phrase.Line {
	if _, err := farm.ParseDay(s); err != nil {
		return reason("day")
	}
	return fine
}

func aClock(s string) phrase.Line {
	if _, err := time.Parse("15:04", s); err != nil || len(s) != 5 {
		return reason("clock")
	}
	return fine
}

// aPast refuses instants that have not come yet; an hour is allowed for clocks
// that run ahead.
func aPast(now time.Time) func(time.Time) phrase.Line {
	return func(t time.Time) phrase.Line {
		switch {
		case t.After(now.Add(time.Hour)):
			return reason("future", "now", now.UTC().Format(time.RFC3339))
		case t.Year() < 1950:
			return reason("too_old")
		}
		return fine
	}
}
