// Package picture draws the coming ten days of one bed, as SVG for the pages and
// as PNG for mail, and gives the same as a table for those who do not see it.
//
// What it is drawn for: by when must this bed be out, and when can one go? So
// the tolerance is drawn as a floor, and the line that falls through it is
// filled; the hours of work stand underneath on the same time axis, and one
// flagged line crosses both.
package picture

import (
	"slices"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// Bed is what is drawn. Plain values; nothing is fetched or computed here.
type Bed struct {
	Title    string // "Bed 3, chard"
	Headline string // the verdict in one short sentence
	Zone     *time.Location
	Units    unit.System
	Hours    []Hour // ten days are drawn, from the first on
	Deadline unit.Maybe[time.Time]
	Now      time.Time
	Phrases  Phrases
}

// Hour is one hour of the outlook. What is missing or no number leaves a gap.
type Hour struct {
	At                              time.Time
	AirP10, AirP50, AirP90          unit.Maybe[unit.Celsius] // at the bed, percentiles of the members
	TissueP10, TissueP50, TissueP90 unit.Maybe[unit.Celsius] // of the organ judged
	Tolerance                       unit.Maybe[unit.Celsius] // tissue temperature at which loss begins to matter
	SnowCm                          unit.Maybe[float64]      // on the bed
	Workable                        bool                     // it can be harvested
	Night                           bool                     // the sun is down
}

// span is what the time axis holds.
const span = 10 * 24 * time.Hour

// tidy sorts the hours, drops what lies beyond the axis and every value that is
// not a number, and fills in the zone and the phrases.
func (b Bed) tidy() Bed {
	if b.Zone == nil {
		b.Zone = time.UTC
	}
	if b.Phrases.Tissue == "" {
		b.Phrases = PhrasesFor(phrase.English(), crop.Leaf)
	}
	b.Hours = slices.Clone(b.Hours)
	slices.SortStableFunc(b.Hours, func(x, y Hour) int { return x.At.Compare(y.At) })
	for i := range b.Hours {
		h := &b.Hours[i]
		for _, v := range []*unit.Maybe[unit.Celsius]{&h.AirP10, &h.AirP50, &h.AirP90, &h.TissueP10, &h.TissueP50, &h.TissueP90, &h.Tolerance} {
			if c, ok := v.Get(); ok && !c.Finite() {
				*v = unit.None[unit.Celsius]()
			}
		}
		if cm, ok := h.SnowCm.Get(); ok && !(cm >= 0 && cm < 1e4) {
			h.SnowCm = unit.None[float64]()
		}
	}
	if len(b.Hours) > 0 {
		end := b.Hours[0].At.Add(span)
		b.Hours = slices.DeleteFunc(b.Hours, func(h Hour) bool { return !h.At.Before(end) })
	}
	return b
}

// degrees is a temperature in the reader's units.
func (b Bed) degrees(c unit.Celsius) float64 {
	if b.Units == unit.US {
		return c.Fahrenheit()
	}
	return float64(c)
}

// depth is a depth in the reader's units.
func (b Bed) depth(cm float64) float64 {
	if b.Units == unit.US {
		return cm / unit.CentimetresPerInch
	}
	return cm
}

func (b Bed) degreeUnit() string {
	if b.Units == unit.US {
		return "°F"
	}
	return "°C"
}

func (b Bed) depthUnit() string {
	if b.Units == unit.US {
		return "in"
	}
	return "cm"
}

// night gathers what one night is drawn and told with.
type night struct {
	day       farm.Day
	middle    time.Time // local midnight
	airLow    unit.Maybe[unit.Celsius]
	tissueLow unit.Maybe[unit.Celsius]
	stands    unit.Maybe[unit.Celsius] // tolerance at the hour of tissueLow
	half      bool                     // half of the members go below what it stands
	tenth     bool                     // one of ten does
}

// A night's low falls between these, hours from local midnight; own default. For
// the night under way its remaining hours count.
const (
	coldStart = -4
	coldEnd   = 7
)

func (n night) cold() (from, to time.Time) {
	return n.middle.Add(coldStart * time.Hour), n.middle.Add(coldEnd * time.Hour)
}

// nights whose cold hours touch the axis, in order. A night that is not covered
// to its end has no low: what was not seen is not told.
func (b Bed) nights() []night {
	if len(b.Hours) == 0 {
		return nil
	}
	start, end := b.Hours[0].At, b.Hours[0].At.Add(span)
	byDay := map[farm.Day]*night{}
	var all []*night
	for _, h := range b.Hours {
		d := farm.NightOf(h.At, b.Zone)
		n := byDay[d]
		if n == nil {
			n = &night{day: d, middle: d.Add(1).Start(b.Zone)}
			byDay[d], all = n, append(all, n)
		}
		n.take(h)
	}
	var whole []night
	gaps := b.gaps()
	for _, n := range all {
		if from, to := n.cold(); to.After(start) && from.Before(end) {
			whole = append(whole, n.orUnknown(gaps, end))
		}
	}
	return whole
}

// orUnknown takes the lows away where cold hours are missing; the marks stay,
// for what was seen to fall through did.
func (n night) orUnknown(gaps []stretch, end time.Time) night {
	from, to := n.cold()
	cut := to.After(end)
	for _, g := range gaps {
		cut = cut || g.from.Before(to) && g.to.After(from)
	}
	if cut {
		n.airLow, n.tissueLow, n.stands = unit.None[unit.Celsius](), unit.None[unit.Celsius](), unit.None[unit.Celsius]()
	}
	return n
}

func (n *night) take(h Hour) {
	n.airLow = lower(n.airLow, h.AirP50)
	if t, ok := h.TissueP50.Get(); ok && (!n.tissueLow.Known() || t < n.tissueLow.Else(t)) {
		n.tissueLow, n.stands = h.TissueP50, h.Tolerance
	}
	n.half = n.half || under(h.TissueP50, h.Tolerance)
	n.tenth = n.tenth || n.half || under(h.TissueP10, h.Tolerance)
}

func lower(a, b unit.Maybe[unit.Celsius]) unit.Maybe[unit.Celsius] {
	x, xok := a.Get()
	y, yok := b.Get()
	if !xok || yok && y < x {
		return b
	}
	return a
}

func under(a, b unit.Maybe[unit.Celsius]) bool {
	x, xok := a.Get()
	y, yok := b.Get()
	return xok && yok && x < y
}

// stretch is a run of hours, end exclusive.
type stretch struct{ from, to time.Time }

// windows are the stretches in which it can be harvested.
func (b Bed) windows() []stretch {
	return b.runs(func(h Hour) bool { return h.Workable })
}

func (b Bed) runs(in func(Hour) bool) []stretch {
	var all []stretch
	for _, h := range b.Hours {
		end := h.At.Add(time.Hour)
		switch {
		case !in(h):
		case len(all) > 0 && all[len(all)-1].to.Equal(h.At):
			all[len(all)-1].to = end
		default:
			all = append(all, stretch{h.At, end})
		}
	}
	return all
}

// gaps are the stretches of the axis without a forecast of air or tissue.
func (b Bed) gaps() []stretch {
	if len(b.Hours) == 0 {
		return []stretch{{time.Time{}, time.Time{}.Add(span)}}
	}
	var all []stretch
	covered := b.Hours[0].At
	end := covered.Add(span)
	for _, h := range b.Hours {
		if !h.AirP50.Known() && !h.TissueP50.Known() {
			continue
		}
		if h.At.After(covered) {
			all = append(all, stretch{covered, h.At})
		}
		covered = later(covered, h.At.Add(time.Hour))
	}
	if covered.Before(end) {
		all = append(all, stretch{covered, end})
	}
	return all
}
