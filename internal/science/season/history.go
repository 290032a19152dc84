package season

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/weather"
)

// History is a weather file cut into winters.
type History struct {
	Years  []int // winters that lie whole within the file
	Filled int   // days without a maximum, for which what is usual in the file stands in
	Load   func(year int) (Winter, error)
}

// HistoryOf cuts a file of days or hours. A place in degrees and a zone make
// hours of days.
func HistoryOf(file weatherfile.File, latitude, longitude float64, zone *time.Location) History {
	if file.Form == weatherfile.Hourly {
		return hourly(file.Hours, zone)
	}
	days, filled := weatherfile.FillMax(file.Days)
	return History{Years: weatherfile.Winters(days), Filled: filled, Load: func(year int) (Winter, error) {
		hours, missing, err := weatherfile.WinterHours(days, year, latitude, longitude, zone)
		return Winter{Year: year, Hours: hours, MissingDays: missing}, err
	}}
}

// hourly: air is bridged as the service does it; a day that rests on more than a
// short gap is a missing day.
func hourly(hours []weather.Hour, zone *time.Location) (h History) {
	if len(hours) == 0 {
		return h
	}
	first, last := hours[0].At, hours[len(hours)-1].At
	for year := first.Year(); year <= last.Year(); year++ {
		if !first.After(First(year).Start(zone)) && !last.Before(End(year).Start(zone).Add(-time.Hour)) {
			h.Years = append(h.Years, year)
		}
	}
	h.Load = func(year int) (Winter, error) {
		from, to := First(year).Start(zone), End(year).Start(zone)
		w := Winter{Year: year, MissingDays: holedDays(hours, from, to, zone)}
		w.Hours, _ = bed.Contiguous(hours, from, to)
		return w, nil
	}
	return h
}

// shortGap is how many hours of a day may be missing without it counting as a
// missing day; own default, as far as air is bridged by a straight line.
const shortGap = 3

func holedDays(hours []weather.Hour, from, to time.Time, zone *time.Location) (missing int) {
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
