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

// headroomC is how far above freezing, or above the mildest low, the picture
// goes: warm afternoons decide nothing and would flatten the nights.
const headroomC = 8

func (b Bed) scale() scale {
	s := scale{low: math.Inf(1), high: math.Inf(-1)}
	if len(b.Hours) > 0 {
		s.from = b.Hours[0].At
	}
	coldest, warmest := math.Inf(1), math.Inf(-1)
	for _, h := range b.Hours {
		for _, v := range []unit.Maybe[unit.Celsius]{h.AirP10, h.TissueP10, h.TissueP50, h.Tolerance, h.AirP90} {
			if c, ok := v.Get(); ok {
				coldest, warmest = min(coldest, float64(c)), max(warmest, float64(c))
			}
		}
	}
	if math.IsInf(coldest, 0) {
		coldest, warmest = -10, 5
	}
	top := min(warmest, max(float64(freezingC), coldest)+headroomC)
	top = max(top, float64(freezingC)+2, coldest+6)
	room := (top - coldest) * 0.16 // for the floor's label
	s.low, s.high = b.degrees(unit.Celsius(coldest-room)), b.degrees(unit.Celsius(top))
	return s
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
