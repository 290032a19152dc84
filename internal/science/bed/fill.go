package bed

import (
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// shortGap is the longest gap bridged by a straight line, hours; own default.
const shortGap = 3

// Contiguous gives one hour for each of [from, to). Air that is missing is
// bridged: up to three hours by a straight line, longer by the same clock hour
// of the nearest known days, else by the straight line all the same. made counts
// the bridged hours beyond short gaps: nothing that rests on them may be called
// well known. Leading and trailing hours that nothing precedes or follows stay
// without air. Air that is not a number is missing.
func Contiguous(hours []weather.Hour, from, to time.Time) (out []weather.Hour, made int) {
	from = from.UTC().Truncate(time.Hour)
	n := int(to.Sub(from) / time.Hour)
	if n <= 0 {
		return nil, 0
	}
	out = make([]weather.Hour, n)
	for i := range out {
		out[i].At = from.Add(time.Duration(i) * time.Hour)
	}
	for _, h := range hours {
		if i := int(h.At.Sub(from) / time.Hour); !h.At.Before(from) && i < n {
			out[i] = h
			if c, ok := h.Air.Get(); ok && !c.Finite() {
				out[i].Air = unit.None[unit.Celsius]()
			}
		}
	}
	return bridge(out)
}

func bridge(hours []weather.Hour) ([]weather.Hour, int) {
	made := 0
	known := func(i int) bool { return hours[i].Air.Known() }
	last := -1
	filled := make([]weather.Hour, len(hours))
	copy(filled, hours)
	for i := range hours {
		if !known(i) {
			continue
		}
		if gap := i - last - 1; last >= 0 && gap > 0 {
			fillGap(hours, filled, last, i)
			if gap > shortGap {
				made += gap
			}
		}
		last = i
	}
	return filled, made
}

// fillGap fills the hours between two known ones.
func fillGap(hours, filled []weather.Hour, a, b int) {
	from, _ := hours[a].Air.Get()
	to, _ := hours[b].Air.Get()
	for i := a + 1; i < b; i++ {
		w := unit.Celsius(float64(i-a) / float64(b-a))
		air := from*(1-w) + to*w
		if b-a-1 > shortGap {
			if same, ok := sameClockHour(hours, i); ok {
				air = same
			}
		}
		filled[i].Air = unit.Some(air)
	}
}

// sameClockHour is the mean of the same hour on the nearest known days, within three.
func sameClockHour(hours []weather.Hour, i int) (unit.Celsius, bool) {
	var sum unit.Celsius
	n := 0
	for _, dir := range []int{-24, 24} {
		for k := 1; k <= 3; k++ {
			j := i + dir*k
			if j < 0 || j >= len(hours) {
				break
			}
			if c, ok := hours[j].Air.Get(); ok {
				sum += c
				n++
				break
			}
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / unit.Celsius(n), true
}
