package supply

import (
	"cmp"
	"math"
	"slices"
	"time"

	"winterstand/internal/farm"
)

// origin is where a kilogram comes from.
type origin int

const (
	standing origin = iota
	regrown
	stored
	origins
)

// source is some kilograms of one crop that can be taken from one week until
// another, the end being a matter of chance.
type source struct {
	origin origin
	kg     float64
	from   int // first week
	// last is the week from which on nothing can be taken, for a fate between
	// 0 (ends early) and 1 (ends late).
	last func(fate float64) int
	kin  int // sources with the same number, 1 or above, share their fate
}

// sources collects everything of a crop, what is expected to end first, first.
// Nothing in the order knows how a play will turn out.
func (in Input) sources(crop string, weeks []Week) []source {
	var out []source
	for i, s := range in.Standing {
		kg, known := s.Kg.Get()
		if s.Crop != crop {
			continue
		}
		if known {
			out = append(out, source{origin: standing, kg: kg, last: s.ends(weeks), kin: i + 1})
		}
		if r, ok := s.Regrow.Get(); ok {
			out = append(out, source{origin: regrown, kg: r.Kg, from: weekOf(r.From, weeks), last: r.ends(weeks), kin: i + 1})
		}
	}
	for _, l := range in.Lots {
		if l.Crop == crop {
			out = append(out, source{origin: stored, kg: l.Kg, last: l.ends(in.Now, in.Zone, weeks)})
		}
	}
	slices.SortStableFunc(out, func(a, b source) int {
		return cmp.Or(cmp.Compare(a.last(0.5), b.last(0.5)), cmp.Compare(a.origin, b.origin))
	})
	return out
}

// weekOf is the first week that starts on a day or later, or holds it.
func weekOf(d farm.Day, weeks []Week) int {
	n := slices.IndexFunc(weeks, func(w Week) bool { return d < w.End })
	if n < 0 {
		return len(weeks)
	}
	return n
}

// ends: a bed whose fate is f stands as long as its chance is above 1-f.
func (s Standing) ends(weeks []Week) func(float64) int {
	chance := make([]float64, len(weeks))
	for n, w := range weeks {
		if chance[n] = s.chance(w.Start); s.NotAfter != "" && w.Start >= s.NotAfter {
			chance[n] = 0
		}
	}
	return func(fate float64) int {
		n := slices.IndexFunc(chance, func(p float64) bool { return p <= 1-fate })
		if n < 0 {
			return len(weeks)
		}
		return n
	}
}

func (s Standing) chance(d farm.Day) float64 {
	before := Chance{P: 1}
	for _, c := range s.Alive {
		if d < c.Day {
			if before.Day == "" {
				return before.P
			}
			share := days(before.Day, d) / days(before.Day, c.Day)
			return before.P + share*(c.P-before.P)
		}
		before = c
	}
	return before.P
}

func days(from, to farm.Day) float64 {
	return to.Noon(time.UTC).Sub(from.Noon(time.UTC)).Hours() / 24
}

// ends: regrowth comes where the crown lives, and then stands until it bolts.
func (r Regrowth) ends(weeks []Week) func(float64) int {
	from, until := weekOf(r.From, weeks), weekOf(r.Until, weeks)
	return func(fate float64) int {
		if fate <= 1-r.Likelihood {
			return from
		}
		return until
	}
}

// z90 is the standard normal quantile of 0.9.
const z90 = 1.2815515655446004

// ends: a lot that is in the books is good today, so its fate is drawn from
// what may still happen.
func (l Lot) ends(now time.Time, zone *time.Location, weeks []Week) func(float64) int {
	gone := l.share(now)
	return func(fate float64) int {
		at := l.quantile(gone + fate*(1-gone))
		if at.Before(now) {
			at = now
		}
		return max(1, weekAfter(farm.DayOf(at, zone), weeks))
	}
}

// weekAfter is the first week that begins after a day.
func weekAfter(d farm.Day, weeks []Week) int {
	n := slices.IndexFunc(weeks, func(w Week) bool { return w.Start > d })
	if n < 0 {
		return len(weeks)
	}
	return n
}

// quantile is the day a lot of rank q spoils: normal on each side of the
// median, with that side's own width.
func (l Lot) quantile(q float64) time.Time {
	z := math.Sqrt2 * math.Erfinv(2*q-1)
	wide := l.P90.Sub(l.P50)
	if z < 0 {
		wide = l.P50.Sub(l.P10)
	}
	day := z / z90 * wide.Hours() / 24
	return l.P50.Add(time.Duration(math.Max(-1e5, math.Min(1e5, day)) * 24 * float64(time.Hour)))
}

// share is the rank of a lot that spoils at an instant.
func (l Lot) share(at time.Time) float64 {
	wide := l.P90.Sub(l.P50)
	if at.Before(l.P50) {
		wide = l.P50.Sub(l.P10)
	}
	if wide <= 0 {
		return 0
	}
	z := z90 * float64(at.Sub(l.P50)) / float64(wide)
	return math.Min(1-1e-9, 0.5*math.Erfc(-z/math.Sqrt2))
}
