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
	usual := RangeOf(days)
	for i, d := range out {
		lo, ok := d.Min.Get()
		if !ok || d.Max.Known() {
			continue
		}
		if k, ok := usual.On(d.Date); ok {
			out[i].Max, out[i].MaxFilled = unit.Some(lo.Plus(k)), true
			filled++
		}
	}
	return out, filled
}

// Range is what is usual between minimum and maximum at each time of the year,
// and for the minimum itself.
type Range struct {
	sum, low [366]float64
	n        [366]int
}

// RangeOf gathers it from a series.
func RangeOf(days []Day) *Range {
	var r Range
	for _, d := range days {
		lo, okLo := d.Min.Get()
		hi, okHi := d.Max.Get()
		if okLo && okHi {
			i := yearDay(d.Date)
			r.sum[i] += float64(hi - lo)
			r.low[i] += float64(lo)
			r.n[i]++
		}
	}
	return &r
}

// On is the mean range within 15 days of a date, false where fewer than 20 days
// of the series have both values.
func (r *Range) On(date farm.Day) (unit.Kelvins, bool) {
	k, ok := r.around(&r.sum, date)
	return unit.Kelvins(k), ok
}

// Low is the mean minimum at a date, as On.
func (r *Range) Low(date farm.Day) (unit.Celsius, bool) {
	c, ok := r.around(&r.low, date)
	return unit.Celsius(c), ok
}

func (r *Range) around(sum *[366]float64, date farm.Day) (float64, bool) {
	total, count := 0.0, 0
	for off := -fillWindowDays; off <= fillWindowDays; off++ {
		i := (yearDay(date) + off + 366) % 366
		total, count = total+sum[i], count+r.n[i]
	}
	if count < fillAtLeast {
		return 0, false
	}
	return total / float64(count), true
}

// yearDay numbers the days of a leap year from 0, so that a date keeps its number.
func yearDay(d farm.Day) int {
	t := d.Start(time.UTC)
	return time.Date(2000, t.Month(), t.Day(), 0, 0, 0, 0, time.UTC).YearDay() - 1
}
