package weatherfile

import (
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/weather"
)

// Winters are the years whose winter, from 1 August of the year to 31 May of the
// next, lies within the series from its first day to its last.
func Winters(days []Day) []int {
	if len(days) == 0 {
		return nil
	}
	first, last := days[0].Date, days[len(days)-1].Date
	var out []int
	for year := first.Start(time.UTC).Year(); year <= last.Start(time.UTC).Year(); year++ {
		from, to := winter(year)
		if from >= first && to.Add(-1) <= last {
			out = append(out, year)
		}
	}
	return out
}

// WinterHours are the hours of one winter, and how many of its days lack a
// minimum or a maximum. The days before and after shape its first and last night.
func WinterHours(days []Day, year int, lat, lon float64, zone *time.Location) (hours []weather.Hour, missing int, err error) {
	from, to := winter(year)
	var own []Day
	whole := 0
	for _, d := range days {
		if d.Date < from.Add(-1) || d.Date > to {
			continue
		}
		own = append(own, d)
		if d.Date >= from && d.Date < to && d.Min.Known() && d.Max.Known() {
			whole++
		}
	}
	hours, err = FromDaily(own, lat, lon, zone)
	if err != nil {
		return nil, 0, fmt.Errorf("winter of %d: %w", year, err)
	}
	start, end := from.Start(zone), to.Start(zone)
	for len(hours) > 0 && hours[0].At.Before(start) {
		hours = hours[1:]
	}
	for len(hours) > 0 && !hours[len(hours)-1].At.Before(end) {
		hours = hours[:len(hours)-1]
	}
	return hours, daysBetween(from, to) - whole, nil
}

func winter(year int) (from, to farm.Day) {
	return farm.Day(fmt.Sprintf("%04d-08-01", year)), farm.Day(fmt.Sprintf("%04d-06-01", year+1))
}
