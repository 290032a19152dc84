package page

import (
	"errors"
	"net/url"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/message/phrase"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// Sheet is a form with what was given and what is wrong with it.
type Sheet struct {
	Action, Submit string
	Boxes          []*Box
	Version        string // of the entry that is changed; empty: a new one
	Problem        string // what is wrong with the whole; empty: nothing
	Cancel         string // where to go instead
	Links          []Link // pages that belong to it
	CSRF           string

	v     *visit
	given url.Values // nil: shown for the first time
}

func (v *visit) sheet(action, submit string, boxes ...*Box) *Sheet {
	return &Sheet{Action: action, Submit: v.say("form." + submit), Boxes: boxes, CSRF: v.session.CSRF, v: v}
}

// all boxes, those of rows one by one.
func (s *Sheet) all() []*Box {
	var out []*Box
	for _, b := range s.Boxes {
		if b.Kind == rowBox {
			out = append(out, b.Row...)
			continue
		}
		out = append(out, b)
	}
	return out
}

// Wrongs are the boxes that something is wrong with.
func (s *Sheet) Wrongs() []*Box {
	var out []*Box
	for _, b := range s.all() {
		if b.Wrong != "" {
			out = append(out, b)
		}
	}
	return out
}

// Bad tells whether anything is wrong.
func (s *Sheet) Bad() bool { return s.Problem != "" || len(s.Wrongs()) > 0 }

func (s *Sheet) box(name string) *Box {
	for _, b := range s.all() {
		if b.Name == name {
			return b
		}
	}
	return nil
}

// seen is the version the visitor saw.
func (s *Sheet) seen() commands.Seen {
	n, err := strconv.ParseInt(s.given.Get("version"), 10, 64)
	if err != nil {
		return unit.None[int64]()
	}
	return unit.Some(n)
}

// take reads what was given into the boxes; what was there before stays known,
// and what was not sent at all stays as it was.
func (s *Sheet) take(given url.Values) {
	s.given = given
	for _, b := range s.all() {
		b.was = b.Value
		if b.Kind == ticksBox {
			b.was, b.Values = strings.Join(b.Values, " "), given[b.Name]
			continue
		}
		if _, there := given[b.Name]; there || b.Kind == tickBox {
			b.Value = strings.TrimSpace(given.Get(b.Name))
		}
		if b.Required && b.Value == "" {
			b.Wrong = s.v.say("form.missing")
		}
	}
}

// touched: the visitor wrote something other than what stood there.
func (s *Sheet) touched(b *Box) bool { return b != nil && b.Value != b.was }

// text is the member for the commands: left out when it was not touched, emptied
// when it was cleared.
func (s *Sheet) text(name string) commands.Optional[string] {
	b := s.box(name)
	switch {
	case !s.touched(b):
		return commands.Optional[string]{}
	case b.Value == "":
		return commands.Clear[string]()
	}
	return commands.Set(b.Value)
}

func (s *Sheet) number(name string) commands.Optional[float64] {
	b := s.box(name)
	switch {
	case !s.touched(b):
		return commands.Optional[float64]{}
	case b.Value == "":
		return commands.Clear[float64]()
	}
	v, ok := b.measure.read(b.Value)
	if !ok {
		b.Wrong = s.v.say("form.number")
		return commands.Optional[float64]{}
	}
	if r, ok := commands.Limits[b.limit]; ok && !r.Refusal(v).None() {
		b.Wrong = s.right(b, r.Refusal(v)) // at once, though another box keeps the form from the commands
	}
	return commands.Set(v)
}

func (s *Sheet) id(name string) commands.Optional[int64] {
	b := s.box(name)
	if !s.touched(b) {
		return commands.Optional[int64]{}
	}
	v, err := strconv.ParseInt(b.Value, 10, 64)
	if err != nil {
		if b.Value == "" {
			return commands.Clear[int64]()
		}
		b.Wrong = s.v.say("form.choose")
		return commands.Optional[int64]{}
	}
	return commands.Set(v)
}

// momentLayout is what browsers send for a date with a time.
const momentLayout = "2006-01-02T15:04"

func (s *Sheet) moment(name string, zone *time.Location) commands.Optional[time.Time] {
	b := s.box(name)
	switch {
	case !s.touched(b):
		return commands.Optional[time.Time]{}
	case b.Value == "":
		return commands.Clear[time.Time]()
	}
	t, err := time.ParseInLocation(momentLayout, strings.Replace(b.Value, " ", "T", 1), zone)
	if err != nil {
		b.Wrong = s.v.say("right.moment")
		return commands.Optional[time.Time]{}
	}
	return commands.Set(t)
}

func (s *Sheet) tick(name string) commands.Optional[bool] {
	b := s.box(name)
	if b == nil || b.Value == b.was {
		return commands.Optional[bool]{}
	}
	return commands.Set(b.Value == "on")
}

func (s *Sheet) ticks(name string) commands.Optional[[]string] {
	b := s.box(name)
	if b == nil || strings.Join(b.Values, " ") == b.was {
		return commands.Optional[[]string]{}
	}
	return commands.Set(b.Values)
}

// blame puts what the commands refused beside its box. It is false for errors that
// are not about the form.
func (s *Sheet) blame(err error) bool {
	var wrong *commands.Invalid
	if !errors.As(err, &wrong) {
		return false
	}
	for _, p := range wrong.Problems {
		b := s.box(p.Field)
		if b == nil {
			b = s.box(strings.TrimRight(strings.SplitN(p.Field, "[", 2)[0], "."))
		}
		if b == nil {
			s.Problem = s.v.wrong(p)
			continue
		}
		b.Wrong = s.right(b, p.Reason)
	}
	return true
}

// right says what would be right in the reader's words and units.
func (s *Sheet) right(b *Box, reason phrase.Line) string {
	switch {
	case b.Required && b.Value == "":
		return s.v.say("form.missing")
	case b.limit != "" && commands.OutOfRange(reason):
		return s.v.rangeSaid(commands.Limits[b.limit], b.measure)
	case b.right != "":
		return s.v.say(b.right)
	case b.Kind == choiceBox || b.Kind == ticksBox:
		return s.v.say("form.choose")
	}
	return s.v.speaker.Tell(reason)
}
