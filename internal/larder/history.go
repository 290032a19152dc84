package larder

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/season"
	"winterstand/internal/stand"
	"winterstand/internal/weather"
	"winterstand/internal/weatherfile"
)

// ErrShort: a history without a whole winter.
var ErrShort = errors.New("no winter from 1 August to 31 May lies whole within it; give a longer history")

// ErrPacked: a compressed file, whose size is not known before it is unpacked.
var ErrPacked = errors.New("is compressed; unpack it first")

// history is a weather file cut into winters.
type history struct {
	years []int
	load  func(year int) (season.Winter, error)
}

// readHistory takes the forms that weatherfile reads. It fails where no winter
// lies whole within the file.
func readHistory(name string, file []byte, f farm.Field, zone *time.Location) (h history, filled int, err error) {
	if bytes.HasPrefix(file, []byte{0x1f, 0x8b}) || strings.HasSuffix(strings.ToLower(name), ".gz") {
		return h, 0, fmt.Errorf("%s: %w", name, ErrPacked)
	}
	read, err := weatherfile.Read(bytes.NewReader(file), name, weatherfile.Options{})
	if err != nil {
		return h, 0, err
	}
	if read.Form == weatherfile.Hourly {
		h = hourly(read.Hours, zone)
	} else {
		var days []weatherfile.Day
		days, filled = weatherfile.FillMax(read.Days)
		h = history{years: weatherfile.Winters(days), load: func(year int) (season.Winter, error) {
			hours, missing, err := weatherfile.WinterHours(days, year, f.Latitude, f.Longitude, zone)
			return season.Winter{Year: year, Hours: hours, MissingDays: missing}, err
		}}
	}
	if len(h.years) == 0 {
		return h, filled, fmt.Errorf("%s: %w", name, ErrShort)
	}
	return h, filled, nil
}

// hourly cuts hours into winters; a day with more than a few hours missing is a
// missing day.
func hourly(hours []weather.Hour, zone *time.Location) (h history) {
	if len(hours) == 0 {
		return h
	}
	first, last := hours[0].At, hours[len(hours)-1].At
	for year := first.Year(); year <= last.Year(); year++ {
		if !first.After(season.First(year).Start(zone)) && !last.Before(season.End(year).Start(zone).Add(-time.Hour)) {
			h.years = append(h.years, year)
		}
	}
	h.load = func(year int) (season.Winter, error) {
		from, to := season.First(year).Start(zone), season.End(year).Start(zone)
		w := season.Winter{Year: year, MissingDays: holed(hours, from, to, zone)}
		w.Hours, _ = stand.Contiguous(hours, from, to)
		return w, nil
	}
	return h
}

// shortGap is how many hours of a day may be missing; own default, as far as
// air is bridged by a straight line.
const shortGap = 3

func holed(hours []weather.Hour, from, to time.Time, zone *time.Location) (missing int) {
	known := map[farm.Day]int{}
	for _, h := range hours {
		if h.Air.Known() && !h.At.Before(from) && h.At.Before(to) {
			known[farm.DayOf(h.At, zone)]++
		}
	}
	for day := farm.DayOf(from, zone); day.Start(zone).Before(to); day = day.Add(1) {
		long := int(day.Add(1).Start(zone).Sub(day.Start(zone)) / time.Hour)
		if known[day] < long-shortGap {
			missing++
		}
	}
	return missing
}
