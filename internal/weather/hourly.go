package weather

import (
	"time"

	"winterstand/internal/unit"
)

// reach is how far outside the asked span layers are looked at, so that a
// minimum window that straddles its edge is bent as a whole. Windows longer
// than this are not met in practice (NWS 14 h, MET Norway 6 h).
const reach = 48

// Hours expands a forecast to contiguous full UTC hours from ≤ h < to; from is
// rounded down to the hour. Every hour of the span is there, with what is not
// known missing.
//
//   - Air, dew point, humidity, wind, cloud and snow depth given for intervals
//     longer than an hour run in a straight line to the next value where that
//     follows without a gap, else the value is held.
//   - AirMin windows bend Air down to the stated minimum: the lowest hour of the
//     window gets exactly the minimum, its neighbours a share that fades to
//     nothing at the window's ends. Air is never bent up and never outside the
//     window.
//   - A window that reaches beyond the last hour of Air still makes its hours:
//     they are built from the minimum with the shape of a usual night (see
//     fillTail), including a gap of up to three hours before the window.
//   - Precip is spread evenly over its interval; an hour that is only partly
//     covered is missing. Shortwave is held.
//   - A missing dew point is made from air and humidity; it never exceeds Air.
func Hours(f Forecast, from, to time.Time) []Hour {
	g := gridOver(from, to)
	if g.n == 0 {
		return nil
	}
	wide := g.widened(reach)
	raw := course(f.Layers[Air], wide)
	air := bend(raw, f, wide)
	dew := dewPoints(course(f.Layers[DewPoint], wide), course(f.Layers[Humidity], wide), raw, air)
	wind, cloud, snow := course(f.Layers[Wind], wide), course(f.Layers[Cloud], wide), course(f.Layers[SnowDepth], wide)
	sun := held(f.Layers[Shortwave], wide)
	rain := totals(f.Layers[Precip], wide)
	out := make([]Hour, g.n)
	for i := range out {
		k := i + reach
		out[i] = Hour{
			At: g.at(i), Air: celsius(air[k]), DewPoint: celsius(dew[k]), Wind: wind[k],
			Cloud: cloud[k], Precip: rain[k], SnowDepth: snow[k], Shortwave: sun[k],
		}
	}
	return out
}

// Spread is the stated spread of Air at one hour.
type Spread struct {
	At  time.Time                `json:"at"`
	P10 unit.Maybe[unit.Celsius] `json:"air_p10_c,omitzero"`
	P90 unit.Maybe[unit.Celsius] `json:"air_p90_c,omitzero"`
}

// Spreads gives the percentile layers for the same hours as Hours. Where an
// AirMin window bends Air, the percentiles move down by as much, since what the
// coarse course hides it hides from them too.
func Spreads(f Forecast, from, to time.Time) []Spread {
	g := gridOver(from, to)
	if g.n == 0 {
		return nil
	}
	wide := g.widened(reach)
	raw := course(f.Layers[Air], wide)
	air := bend(raw, f, wide)
	p10, p90 := course(f.Layers[AirP10], wide), course(f.Layers[AirP90], wide)
	out := make([]Spread, g.n)
	for i := range out {
		k := i + reach
		out[i] = Spread{At: g.at(i), P10: celsius(moved(p10[k], raw[k], air[k])), P90: celsius(moved(p90[k], raw[k], air[k]))}
	}
	return out
}

func moved(v, before, after unit.Maybe[float64]) unit.Maybe[float64] {
	x, ok := v.Get()
	b, okB := before.Get()
	a, okA := after.Get()
	if !ok || !okA || !okB {
		return v
	}
	return unit.Some(x + a - b)
}

// Course gives one ensemble member's Air for the same hours as Hours.
func (m Member) Course(from, to time.Time) []unit.Maybe[unit.Celsius] {
	values := course(m.Air, gridOver(from, to))
	out := make([]unit.Maybe[unit.Celsius], len(values))
	for i, v := range values {
		out[i] = celsius(v)
	}
	return out
}

// Span is a stretch of time [From, To).
type Span struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Holes lists, in order, the stretches of full hours within from ≤ h < to for
// which hours (in any order) hold no Air.
func Holes(hours []Hour, from, to time.Time) []Span {
	known := make(map[int64]bool, len(hours))
	for _, h := range hours {
		if c, ok := h.Air.Get(); ok && c.Finite() {
			known[h.At.Unix()] = true
		}
	}
	var out []Span
	g := gridOver(from, to)
	for i := range g.n {
		at := g.at(i)
		switch {
		case known[at.Unix()]:
		case len(out) > 0 && out[len(out)-1].To.Equal(at):
			out[len(out)-1].To = at.Add(time.Hour)
		default:
			out = append(out, Span{From: at, To: at.Add(time.Hour)})
		}
	}
	return out
}

// grid is n full UTC hours from a start.
type grid struct {
	start time.Time
	n     int
}

func gridOver(from, to time.Time) grid {
	start := from.UTC().Truncate(time.Hour)
	if !to.After(start) {
		return grid{start: start}
	}
	return grid{start: start, n: int((to.Sub(start) + time.Hour - 1) / time.Hour)}
}

func (g grid) widened(hours int) grid {
	return grid{start: g.start.Add(-time.Duration(hours) * time.Hour), n: g.n + 2*hours}
}

func (g grid) at(i int) time.Time { return g.start.Add(time.Duration(i) * time.Hour) }

// within gives the indices of the full hours h with start ≤ h < end.
func (g grid) within(iv Interval) (first, past int) {
	return min(max(g.ceil(iv.Start), 0), g.n), min(max(g.ceil(iv.End), 0), g.n)
}

func (g grid) ceil(t time.Time) int {
	d := t.Sub(g.start)
	k := int(d / time.Hour)
	if d > time.Duration(k)*time.Hour {
		k++
	}
	return k
}

func celsius(v unit.Maybe[float64]) unit.Maybe[unit.Celsius] {
	if x, ok := v.Get(); ok && unit.Celsius(x).Finite() {
		return unit.Some(unit.Celsius(x))
	}
	return unit.None[unit.Celsius]()
}
