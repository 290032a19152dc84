package crop

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"winterstand/internal/unit"
)

// reader turns a decoded file into a catalogue and collects what is wrong, each
// with file and line.
type reader struct {
	name  string
	doc   document
	lines lines
	bad   []error
}

// refuse notes what is wrong at a path of the file and what would be right.
func (r *reader) refuse(path, format string, args ...any) {
	r.bad = append(r.bad, fmt.Errorf("%s:%d: %s: %s", r.name, r.lines.of(path), path, fmt.Sprintf(format, args...)))
}

func (r *reader) err() error { return errors.Join(r.bad...) }

var (
	organs      = []Organ{Leaf, Head, Stem, Fruit, Root, Bulb, Crown}
	families    = []string{"leaf", "herb", "allium", "cole", "root", "fruit", "legume"}
	bases       = []Basis{ScreenAir, Tissue, SoilBasis}
	marks       = []Mark{FromSource, FromSecondary, FromMemory, OwnDefault, Practice}
	confidences = []string{"high", "medium", "low"}
)

// choice refuses a word that is not in its list.
func choice[T ~string](r *reader, path string, got T, from []T) {
	if !slices.Contains(from, got) {
		r.refuse(path, "%q is not known: must be one of %s", got, list(from))
	}
}

func list[T ~string](words []T) string {
	s := make([]string, len(words))
	for i, w := range words {
		s[i] = string(w)
	}
	return strings.Join(s, ", ")
}

// figure checks one number and gives it in the unit the program works in.
func (r *reader) figure(path string, f figure, s spec) (Figure, float64) {
	switch {
	case f.Value == nil:
		r.refuse(path, "value is missing")
		return Figure{}, math.NaN()
	case f.Unit == "":
		r.refuse(path, "unit is missing: must be one of %s", list(units[s.kind]))
	default:
		choice(r, path+".unit", f.Unit, units[s.kind])
	}
	r.evidence(path, f, s)
	v := inUnit(*f.Value, f.Unit)
	if !(v >= s.low && v <= s.high) {
		r.refuse(path+".value", "%g %s is outside the plausible range %g to %g %s",
			*f.Value, f.Unit, s.low, s.high, last(units[s.kind]))
	}
	return Figure{Name: s.name, Value: *f.Value, Unit: f.Unit, Basis: f.Basis, Mark: f.Mark,
		Source: r.sources(path, f.Source), Confidence: f.Confidence, Note: f.Note, Codes: f.Source}, v
}

func (r *reader) evidence(path string, f figure, s spec) {
	choice(r, path+".mark", f.Mark, marks)
	choice(r, path+".confidence", f.Confidence, confidences)
	switch {
	case s.kind == temperature:
		choice(r, path+".basis", f.Basis, bases)
	case f.Basis != NoBasis:
		r.refuse(path+".basis", "a figure in %s has no basis: leave it out", last(units[s.kind]))
	}
}

// sources writes the codes out in full.
func (r *reader) sources(path string, codes []string) string {
	if len(codes) == 0 {
		r.refuse(path, "source is missing: name at least one code of [sources]")
	}
	full := make([]string, len(codes))
	for i, code := range codes {
		full[i] = code + ": " + r.source(path, code)
	}
	return strings.Join(full, "; ")
}

func (r *reader) source(path, code string) string {
	title, ok := r.doc.Sources[code]
	if !ok {
		r.refuse(path+".source", "%q is not in [sources]: add it there or use one of its codes", code)
	}
	return title
}

func last(s []string) string { return s[len(s)-1] }

func inUnit(v float64, u string) float64 {
	if u == "°F" {
		return float64(unit.FromFahrenheit(v))
	}
	return v
}

// inTissue brings a temperature to what the organ itself has. A list's screen
// air is lowered here and nowhere else.
func inTissue(v float64, b Basis) unit.Celsius {
	if b == ScreenAir {
		return unit.Celsius(v).Plus(-ListDepression)
	}
	return unit.Celsius(v)
}
