package picture

import (
	"math"
	"time"

	"winterstand/internal/unit"
)

// Measures of the picture, pixels.
const (
	width     = 360.0
	left      = 38.0
	right     = width - 6
	plotTop   = 66.0
	plotFoot  = 216.0
	freezingC = unit.Celsius(0)
)

// scale turns time and temperature into pixels.
type scale struct {
	from      time.Time
	low, high float64 // reader's units, at plotFoot and plotTop
}

func (s scale) x(t time.Time) float64 {
	return left + (right-left)*float64(t.Sub(s.from))/float64(span)
}

func (s scale) y(degrees float64) float64 {
	return plotFoot - (plotFoot-plotTop)*(degrees-s.low)/(s.high-s.low)
}

// What decides is how the tissue stands to the floor, at night. So warm
// afternoons run out of the picture above, and air far colder than a root under
// snow or soil runs out of it below; the row of night lows still tells it.
const (
	headroomK = 8 // above freezing, or above the mildest night
	cellarK   = 6 // under the coldest tissue and the floor
)

func (b Bed) scale() scale {
	s := scale{}
	if len(b.Hours) > 0 {
		s.from = b.Hours[0].At
	}
	airLow, airHigh := b.extremes(func(h Hour) []unit.Maybe[unit.Celsius] {
		return []unit.Maybe[unit.Celsius]{h.AirP10, h.AirP50, h.AirP90}
	})
	low, high := b.extremes(func(h Hour) []unit.Maybe[unit.Celsius] {
		return []unit.Maybe[unit.Celsius]{h.TissueP10, h.TissueP50, h.Tolerance}
	})
	coldest, warmest := min(max(airLow, low-cellarK), low), max(airHigh, high)
	if math.IsInf(low, 1) {
		coldest = airLow
	}
	if math.IsInf(coldest, 0) || math.IsInf(warmest, 0) {
		coldest, warmest = -10, 5
	}
	top := min(warmest+1, max(float64(freezingC), b.mildestNight())+headroomK) // 1 K: a line along the edge would count as outside
	top = max(top, float64(freezingC)+2, coldest+6)
	room := (top - coldest) * 0.16 // for the floor's label
	s.low, s.high = b.degrees(unit.Celsius(coldest-room)), b.degrees(unit.Celsius(top))
	return s
}

// extremes of some values over the hours, °C; infinite where there are none.
func (b Bed) extremes(of func(Hour) []unit.Maybe[unit.Celsius]) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, h := range b.Hours {
		for _, v := range of(h) {
			if c, ok := v.Get(); ok {
				low, high = min(low, float64(c)), max(high, float64(c))
			}
		}
	}
	return low, high
}

func (b Bed) mildestNight() float64 {
	mildest := math.Inf(-1)
	for _, n := range b.nights() {
		if c, ok := n.airLow.Get(); ok {
			mildest = max(mildest, float64(c))
		}
	}
	return mildest
}

// ticks of the temperature axis, reader's units: round steps, and freezing,
// which no round step may crowd.
func (b Bed) ticks(s scale) []float64 {
	step := 1.0
	for _, next := range []float64{2, 5, 10, 20, 50} {
		if (s.high-s.low)/step <= 6 {
			break
		}
		step = next
	}
	freezing := b.degrees(freezingC)
	var all []float64
	for v := math.Ceil(s.low/step) * step; v <= s.high; v += step {
		if math.Abs(v-freezing) > 0.5*step && s.y(v) < plotFoot-4 && s.y(v) > plotTop+4 {
			all = append(all, v)
		}
	}
	if freezing > s.low && freezing < s.high {
		all = append(all, freezing)
	}
	return all
}
