package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"winterstand/internal/farm"
	"winterstand/internal/season"
	"winterstand/internal/stand"
	"winterstand/internal/weather"
	"winterstand/internal/weatherfile"
)

// history is a weather file cut into winters.
type history struct {
	years []int
	load  func(year int) (season.Winter, error)
}

func newHistory(cmd *cobra.Command, name string, file weatherfile.File, at place, zone *time.Location) history {
	if file.Form == weatherfile.Hourly {
		return hourlyHistory(file.Hours, zone)
	}
	days, filled := weatherfile.FillMax(file.Days)
	if filled > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s without a maximum; what is usual stands in\n", name, counted(filled, "day"))
	}
	return history{years: weatherfile.Winters(days), load: func(year int) (season.Winter, error) {
		hours, missing, err := weatherfile.WinterHours(days, year, at.latitude, at.longitude, zone)
		return season.Winter{Year: year, Hours: hours, MissingDays: missing}, err
	}}
}

// hourlyHistory cuts hours into winters. Air is bridged as the service does it;
// a day that rests on more than a short gap is a missing day.
func hourlyHistory(hours []weather.Hour, zone *time.Location) history {
	var h history
	first, last := hours[0].At, hours[len(hours)-1].At
	for year := first.Year(); year <= last.Year(); year++ {
		if !first.After(season.First(year).Start(zone)) && !last.Before(season.End(year).Start(zone).Add(-time.Hour)) {
			h.years = append(h.years, year)
		}
	}
	h.load = func(year int) (season.Winter, error) {
		from, to := season.First(year).Start(zone), season.End(year).Start(zone)
		w := season.Winter{Year: year, MissingDays: holedDays(hours, from, to, zone)}
		w.Hours, _ = stand.Contiguous(hours, from, to)
		return w, nil
	}
	return h
}

// shortGap is how many hours of a day may be missing without it counting as a
// missing day; own default, as far as air is bridged by a straight line.
const shortGap = 3

func holedDays(hours []weather.Hour, from, to time.Time, zone *time.Location) int {
	known := map[farm.Day]int{}
	for _, h := range hours {
		if h.Air.Known() && !h.At.Before(from) && h.At.Before(to) {
			known[farm.DayOf(h.At, zone)]++
		}
	}
	missing := 0
	for day := farm.DayOf(from, zone); day.Start(zone).Before(to); day = day.Add(1) {
		long := int(day.Add(1).Start(zone).Sub(day.Start(zone)) / time.Hour)
		if known[day] < long-shortGap {
			missing++
		}
	}
	return missing
}
