package weatherfile

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// How FillMax finds what is usual (own defaults).
const (
	fillWindowDays = 15 // to either side in the calendar
	fillAtLeast    = 20 // days of the window with both values
)

// FillMax estimates missing maxima where the minimum is known, from the usual
// range between the two at that time of the year in the same series: a maximum
// only shapes the day, while a minimum decides, so a missing minimum is never
// estimated. Estimates carry MaxFilled; days is not changed. Where fewer than 20
// days around the date have both values, the maximum stays missing.
func FillMax(days []Day) (out []Day, filled int) {
	out = append([]Day(nil), days...)
	var sum [366]float64
	var n [366]int
	for _, d := range days {
		lo, okLo := d.Min.Get()
		hi, okHi := d.Max.Get()
		if okLo && okHi {
			i := yearDay(d.Date)
			sum[i] += float64(hi - lo)
			n[i]++
		}
	}
	for i, d := range out {
		lo, ok := d.Min.Get()
		if !ok || d.Max.Known() {
			continue
		}
		if usual, ok := around(sum, n, yearDay(d.Date)); ok {
			out[i].Max, out[i].MaxFilled = unit.Some(lo+unit.Celsius(usual)), true
			filled++
		}
	}
	return out, filled
}

// yearDay numbers the days of a leap year from 0, so that a date keeps its number.
func yearDay(d farm.Day) int {
	t := d.Start(time.UTC)
	return time.Date(2000, t.Month(), t.Day(), 0, 0, 0, 0, time.UTC).YearDay() - 1
}

func around(sum [366]float64, n [366]int, day int) (float64, bool) {
	total, count := 0.0, 0
	for off := -fillWindowDays; off <= fillWindowDays; off++ {
		i := (day + off + 366) % 366
		total, count = total+sum[i], count+n[i]
	}
	if count < fillAtLeast {
		return 0, false
	}
	return total / float64(count), true
}
