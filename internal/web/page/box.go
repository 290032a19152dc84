package page

import (
	"slices"
	"strconv"
	"strings"

	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// Kinds of boxes.
const (
	textBox   = "text"
	emailBox  = "email"
	telBox    = "tel"
	numberBox = "number"
	choiceBox = "choice"
	dayBox    = "date"
	momentBox = "datetime-local"
	clockBox  = "time"
	noteBox   = "note"
	tickBox   = "tick"
	ticksBox  = "ticks"
	headBox   = "head" // a heading between boxes
	rowBox    = "row"  // several boxes on one line
)

// Box is one question of a form. Its name is the commands' own name of the member,
// so that what the commands says is wrong finds its way to it.
type Box struct {
	Name, Kind, Label, Hint string
	Unit                    string
	Value                   string
	Values                  []string // of ticks
	Choices                 []Choice
	Required                bool
	Wrong                   string // what would be right; empty: nothing is wrong
	Complete                string // autocomplete
	Row                     []*Box // of a row
	Line                    string // number of the row it stands in; empty: in none

	measure measure
	limit   string // key of commands.Limits
	right   string // phrase that says what would be right
	was     string // value before the visitor changed it
}

// Choice is one answer to choose from.
type Choice struct{ Value, Label string }

// ID of the box in the page.
func (b *Box) ID() string {
	return "f-" + strings.NewReplacer("[", "-", "].", "-", "]", "").Replace(b.Name)
}

// Described are the ids of the texts that belong to the box.
func (b *Box) Described() string {
	var ids []string
	if b.Wrong != "" {
		ids = append(ids, b.ID()+"-wrong")
	}
	if b.Hint != "" {
		ids = append(ids, b.ID()+"-hint")
	}
	return strings.Join(ids, " ")
}

// Ticked tells whether a value is among those chosen.
func (b *Box) Ticked(v string) bool { return slices.Contains(b.Values, v) }

// rangeSaid says what a number may be, in the reader's units.
func (v *visit) rangeSaid(r commands.Range, m measure) string {
	key := "form.range"
	switch {
	case r.OpenMin && r.OpenMax:
		key = "form.range_between"
	case r.OpenMin:
		key = "form.range_above"
	}
	text := v.say(key, "from", m.write(r.Min), "to", m.write(r.Max), "unit", m.unit)
	return strings.ReplaceAll(text, " .", ".") // a number without a unit
}

// makers of boxes: labels and hints are phrases named after the member.

func (v *visit) ask(kind, name, noun string) *Box {
	b := &Box{Name: name, Kind: kind, Label: v.say("label." + noun)}
	if v.Phrases.Has("hint." + noun) {
		b.Hint = v.say("hint." + noun)
	}
	if v.Phrases.Has("right." + noun) {
		b.right = "right." + noun
	}
	return b
}

func (b *Box) must() *Box                 { b.Required = true; return b }
func (b *Box) with(value string) *Box     { b.Value = value; return b }
func (b *Box) in(m measure) *Box          { b.measure, b.Unit = m, m.unit; return b }
func (b *Box) within(limit string) *Box   { b.limit = limit; return b }
func (b *Box) from(choices []Choice) *Box { b.Choices = choices; return b }
func (b *Box) or(right string) *Box       { b.right = right; return b }

// row puts boxes on one line, numbered from 0.
func row(i int, boxes ...*Box) *Box {
	n := strconv.Itoa(i + 1)
	for _, b := range boxes {
		b.Line = n
	}
	return &Box{Kind: rowBox, Label: n, Row: boxes}
}

// withNumber writes a number that may be missing.
func (b *Box) withNumber(v unit.Maybe[float64]) *Box {
	if x, ok := v.Get(); ok {
		b.Value = b.measure.write(x)
	}
	return b
}

// choices of a member in the reader's words; blank: an empty one on top.
func (v *visit) choices(key, phrases, blank string) []Choice {
	var out []Choice
	if blank != "" {
		out = append(out, Choice{"", v.say(blank)})
	}
	for _, w := range commands.Choices[key] {
		out = append(out, Choice{w, v.say(phrases + "." + strings.ReplaceAll(w, "-", "_"))})
	}
	return out
}

// languages there are, each by what its speakers call it; blank: an empty one on
// top.
func (v *visit) languages(blank string) []Choice {
	var out []Choice
	if blank != "" {
		out = append(out, Choice{"", v.say(blank)})
	}
	for _, l := range commands.Choices["farm.language"] {
		out = append(out, Choice{l, v.Phrases.Say(l, "language.name", nil)})
	}
	return out
}
