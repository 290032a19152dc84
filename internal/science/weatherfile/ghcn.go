package weatherfile

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Source of the three forms: NOAA NCEI, GHCN-Daily readme.txt (section III,
// format of .dly) and readme-by_station.txt (the list): TMIN and TMAX in tenths
// of °C, PRCP in tenths of mm, SNOW and SNWD in mm, -9999 missing, a quality
// flag that is not blank means that the value failed a check. The table is the
// form of NCEI's access and order services (from memory).

// stationID is the GHCN-Daily station code: country, network, eight more.
var stationID = regexp.MustCompile(`^[A-Z]{2}[A-Z0-9][A-Z0-9_-]{8}$`)

// Reasons for which GHCN values are left out.
const (
	DroppedQuality  = "failed a quality check of NOAA"
	DroppedInverted = "minimum above maximum of the same day"
)

// missingGHCN is how the list and the fixed form write a missing value.
const missingGHCN = -9999

// ghcn gathers the elements of one station into days.
type ghcn struct {
	want    string // station asked for; empty: the only one
	station string
	days    map[farm.Day]Day
	dropped map[string]int
}

func newGHCN(opt Options) *ghcn {
	return &ghcn{want: opt.Station, days: map[farm.Day]Day{}, dropped: map[string]int{}}
}

// takes tells whether rows of a station are wanted; other is the station a file
// already had when none was asked for and a second one turns up.
func (g *ghcn) takes(station string) (ok bool, other string) {
	if g.want != "" {
		ok = station == g.want
	} else {
		ok = g.station == "" || g.station == station
	}
	if ok {
		g.station = station
		return true, ""
	}
	if g.want != "" {
		return false, ""
	}
	return false, g.station
}

// slot is the place of an element in a day, nil for elements not used here.
func slot(d *Day, element string) (temperature *unit.Maybe[unit.Celsius], amount *unit.Maybe[float64], lim limits) {
	switch element {
	case "TMIN":
		return &d.Min, nil, celsius
	case "TMAX":
		return &d.Max, nil, celsius
	case "PRCP":
		return nil, &d.Precip, dayRain
	case "SNOW":
		return nil, &d.Snowfall, daySnow
	case "SNWD":
		return nil, &d.SnowDepth, snowDepth
	}
	return nil, nil, limits{}
}

// used tells whether an element is read at all.
func used(element string) bool {
	t, a, _ := slot(&Day{}, element)
	return t != nil || a != nil
}

// put stores a value in our units (°C, mm, cm of snow). The problem, if any, is
// in words for a Fault.
func (g *ghcn) put(date farm.Day, element string, v float64) (problem string) {
	d := g.days[date]
	d.Date = date
	t, a, lim := slot(&d, element)
	if v < lim.low || v > lim.high {
		return fmt.Sprintf("%g is not possible for %s in %s", v, element, lim.what)
	}
	if t != nil && t.Known() || a != nil && a.Known() {
		return fmt.Sprintf("%s of %s is there twice", element, date)
	}
	if t != nil {
		*t = unit.Some(unit.Celsius(v))
	} else {
		*a = unit.Some(v)
	}
	g.days[date] = d
	return ""
}

// touch keeps a day of which every value is missing, so that it is not lost.
func (g *ghcn) touch(date farm.Day) {
	if _, ok := g.days[date]; !ok {
		g.days[date] = Day{Date: date}
	}
}

// file is the result in order of time.
func (g *ghcn) file(form Form, name string, line int) (File, error) {
	if len(g.days) == 0 && g.want != "" {
		return File{}, fault(name, line, "", what{Station, clip(g.want), ""}, "no values of station "+clip(g.want), "name a station that the file holds")
	}
	if len(g.days) == 0 {
		return File{}, fault(name, line, "", what{NoValues, "", "TMIN, TMAX, PRCP, SNOW, SNWD"}, "no TMIN, TMAX, PRCP, SNOW or SNWD in the file", "take a GHCN-Daily file of one station")
	}
	f := File{Form: form, Station: g.station, Dropped: g.dropped}
	for _, date := range slices.Sorted(maps.Keys(g.days)) {
		d := g.days[date]
		if inverted(d) {
			d.Min, d.Max = unit.None[unit.Celsius](), unit.None[unit.Celsius]()
			f.Dropped[DroppedInverted] += 2
		}
		f.Days = append(f.Days, d)
	}
	return f, nil
}

// scale turns a raw GHCN value into °C, mm or cm of snow.
func scale(units Units, element string, raw float64) float64 {
	temperature, snow := element == "TMIN" || element == "TMAX", element == "SNOW" || element == "SNWD"
	switch {
	case snow && units == UnitsUS:
		return raw * unit.CentimetresPerInch
	case snow:
		return raw / 10
	case temperature && units == UnitsUS:
		return float64(unit.FromFahrenheit(raw))
	case units == UnitsUS:
		return raw * unit.CentimetresPerInch * 10
	case units == UnitsTenths:
		return raw / 10
	}
	return raw
}

// ghcnDate reads 20261114 or 2026-11-14.
func ghcnDate(text string) (farm.Day, bool) {
	layout := "20060102"
	if len(text) == len(time.DateOnly) {
		layout = time.DateOnly
	}
	at, err := time.Parse(layout, text)
	if err != nil {
		return "", false
	}
	d := farm.Day(at.Format(time.DateOnly))
	return d, plausible(d)
}
