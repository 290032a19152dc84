package weather

import (
	"math"
	"slices"
	"time"

	"winterstand/internal/unit"
)

// Shape of a night that only its minimum is known of. Own defaults: the air
// falls with the square root of time, as under a clear sky (Brunt 1941,
// Physical and Dynamical Meteorology), to its minimum near sunrise. In a window
// of 19:00–09:00 local standard time that is 12 of 14 h in.
const (
	minimumAt = 12.0 / 14.0
	bridge    = 3 // h, the longest gap between the last hour of Air and a window that is filled
)

// bend lowers the course within each AirMin window until its lowest hour is the
// stated minimum, and makes the hours of a window beyond the course's end.
func bend(air []unit.Maybe[float64], f Forecast, g grid) []unit.Maybe[float64] {
	out := slices.Clone(air)
	end := g.pastLast(f.Layers[Air])
	if end == 0 {
		return out
	}
	for _, w := range f.Layers[AirMin] {
		minimum, ok := finite(w.Value)
		first, past := g.within(w)
		if !ok || first >= past {
			continue
		}
		if past > end && first-end <= bridge && w.End.Sub(w.Start) <= reach*time.Hour/2 {
			end = fillTail(out, end, first, past, minimum)
			continue
		}
		lower(out, first, past, minimum)
	}
	return out
}

// lower subtracts a raised cosine that is one at the window's lowest hour and
// fades to nothing just outside the window. Since the weight nowhere exceeds
// one, no hour falls below the minimum.
func lower(air []unit.Maybe[float64], first, past int, minimum float64) {
	coldest, at, ok := lowest(air, first, past)
	if !ok || coldest <= minimum {
		return
	}
	for k := first; k < past; k++ {
		v, ok := air[k].Get()
		if !ok {
			continue
		}
		air[k] = unit.Some(v - (coldest-minimum)*fade(k, at, first, past))
	}
	air[at] = unit.Some(minimum)
}

// fade is the weight of hour k for a bump that peaks at hour at.
func fade(k, at, first, past int) float64 {
	away := float64(k-at) / float64(past-at)
	if k < at {
		away = float64(at-k) / float64(at-first+1)
	}
	c := math.Cos(math.Pi / 2 * away)
	return c * c
}

func lowest(air []unit.Maybe[float64], first, past int) (coldest float64, at int, ok bool) {
	for k := first; k < past; k++ {
		if v, known := air[k].Get(); known && (!ok || v < coldest) {
			coldest, at, ok = v, k, true
		}
	}
	return
}

// fillTail makes the hours of a window that reaches beyond the last hour of
// Air (index end-1), and gives the new end. If the usual hour of the minimum
// lies beyond the end and the course has not reached the minimum yet, the air
// falls from its last value to the minimum at that hour and climbs back half as
// far by the window's end; otherwise the hours that are there are bent and the
// rest keep the last one's value.
func fillTail(air []unit.Maybe[float64], end, first, past int, minimum float64) int {
	dip := first + int(math.Round(minimumAt*float64(past-first)))
	dip = min(dip, past-1)
	last := air[end-1].Else(minimum)
	coldest, _, ok := lowest(air, first, end)
	if dip < end || (ok && coldest <= minimum) {
		lower(air, first, min(end, past), minimum)
		last = air[end-1].Else(minimum)
		for k := end; k < past; k++ {
			air[k] = unit.Some(last)
		}
		return past
	}
	fall := max(0, last-minimum)
	for k := end; k <= dip; k++ {
		air[k] = unit.Some(minimum + fall*(1-math.Sqrt(float64(k-end+1)/float64(dip-end+1))))
	}
	for k := dip + 1; k < past; k++ {
		air[k] = unit.Some(minimum + fall/2*float64(k-dip)/float64(past-dip))
	}
	return past
}

// pastLast is the index after the last known hour of a layer, within the grid.
func (g grid) pastLast(layer []Interval) int {
	for i := len(layer) - 1; i >= 0; i-- {
		if _, ok := finite(layer[i].Value); ok {
			_, past := g.within(layer[i])
			return past
		}
	}
	return 0
}
