package weather

import (
	"math"
	"time"

	"winterstand/internal/unit"
)

// course samples a layer of instants at the hours of a grid: straight lines
// between values that follow each other without a gap, else held.
func course(layer []Interval, g grid) []unit.Maybe[float64] {
	out := make([]unit.Maybe[float64], g.n)
	for i, iv := range layer {
		v, ok := finite(iv.Value)
		if !ok {
			continue
		}
		rise := 0.0
		if next, ok := follower(layer, i); ok && iv.End.Sub(iv.Start) > time.Hour {
			rise = next - v
		}
		length := iv.End.Sub(iv.Start).Hours()
		first, past := g.within(iv)
		for k := first; k < past; k++ {
			out[k] = unit.Some(v + rise*g.at(k).Sub(iv.Start).Hours()/length)
		}
	}
	return out
}

// follower is the value that begins where interval i ends.
func follower(layer []Interval, i int) (float64, bool) {
	if i+1 >= len(layer) || !layer[i+1].Start.Equal(layer[i].End) {
		return 0, false
	}
	return finite(layer[i+1].Value)
}

// finite is a value that is there and a number: NaN would compare false with
// every limit.
func finite(v unit.Maybe[float64]) (float64, bool) {
	x, ok := v.Get()
	return x, ok && !math.IsNaN(x) && !math.IsInf(x, 0)
}

// held samples a layer whose values hold throughout their interval.
func held(layer []Interval, g grid) []unit.Maybe[float64] {
	out := make([]unit.Maybe[float64], g.n)
	for _, iv := range layer {
		first, past := g.within(iv)
		for k := first; k < past; k++ {
			if _, ok := finite(iv.Value); ok {
				out[k] = iv.Value
			}
		}
	}
	return out
}

// totals spreads interval totals evenly. An hour that known intervals do not
// cover wholly is missing.
func totals(layer []Interval, g grid) []unit.Maybe[float64] {
	sum, covered := make([]float64, g.n), make([]time.Duration, g.n)
	for _, iv := range layer {
		v, ok := finite(iv.Value)
		length := iv.End.Sub(iv.Start)
		if !ok || length <= 0 {
			continue
		}
		first, past := g.within(Interval{Start: iv.Start.Add(-time.Hour + 1), End: iv.End})
		for k := first; k < past; k++ {
			part := overlap(g.at(k), g.at(k+1), iv)
			sum[k] += v * float64(part) / float64(length)
			covered[k] += part
		}
	}
	out := make([]unit.Maybe[float64], g.n)
	for k := range out {
		if covered[k] >= time.Hour {
			out[k] = unit.Some(sum[k])
		}
	}
	return out
}

func overlap(from, to time.Time, iv Interval) time.Duration {
	if iv.Start.After(from) {
		from = iv.Start
	}
	if iv.End.Before(to) {
		to = iv.End
	}
	return max(0, to.Sub(from))
}
