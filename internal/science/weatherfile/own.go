package weatherfile

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Columns of the program's own files; the order in a file is free.
var (
	HourlyColumns = []string{"time", "air_c", "dew_point_c", "wind_ms", "cloud_fraction", "precip_mm", "snow_depth_cm", "shortwave_wm2"}
	DailyColumns  = []string{"date", "tmin_c", "tmax_c", "precip_mm", "snowfall_cm", "snow_depth_cm"}
)

// Years that a file may speak of; instruments are not older (own default).
const (
	firstYear = 1700
	lastYear  = 2200
)

// rightTime is an example of a full hour.
const rightTime = "2026-11-14T06:00:00Z"

// readOwn reads the hourly or the daily form; first is the header row.
func readOwn(t *table, first []string) (File, error) {
	head := headOf(first)
	if head.has("TIME") == head.has("DATE") {
		return File{}, t.fault("", what{NoHeader, clip(strings.Join(first, ",")), "time,air_c / date,tmin_c,tmax_c"}, fmt.Sprintf("%q is not a header of a weather file", clip(strings.Join(first, ","))),
			"hourly files begin with "+strings.Join(HourlyColumns, ",")+" and daily ones with "+strings.Join(DailyColumns, ",")+"; time and air_c, or date, tmin_c and tmax_c, must be there")
	}
	if head.has("TIME") {
		hours, err := readHours(t, first)
		return File{Form: Hourly, Hours: hours}, err
	}
	days, reordered, err := readDays(t, first)
	return File{Form: Daily, Days: days, Reordered: reordered}, err
}

// need refuses a header without the columns nothing can be done without.
func (t *table) need(h head, columns ...string) error {
	for _, c := range columns {
		if !h.has(c) {
			return t.fault(c, what{ColumnMissing, c, ""}, "missing from the header", "a column that may be empty in places but must be there")
		}
	}
	return nil
}

// each calls row for every data row; a file without any is refused.
func (t *table) each(row func([]string) error) error {
	for n := 0; ; n++ {
		cells, err := t.next()
		if errors.Is(err, io.EOF) && n > 0 {
			return nil
		}
		if errors.Is(err, io.EOF) {
			return fault(t.name, t.line, "", what{NoRows, "", ""}, "nothing follows the header", "one line for every hour or day")
		}
		if err != nil {
			return err
		}
		if err := row(cells); err != nil {
			return err
		}
	}
}

// readHours reads the hourly form.
func readHours(t *table, header []string) ([]weather.Hour, error) {
	h, err := t.strictHead(header, HourlyColumns)
	if err != nil {
		return nil, err
	}
	if err := t.need(h, "time", "air_c"); err != nil {
		return nil, err
	}
	var hours []weather.Hour
	err = t.each(func(row []string) error {
		var last time.Time
		if len(hours) > 0 {
			last = hours[len(hours)-1].At
		}
		hour, err := t.hour(h, row, last)
		hours = append(hours, hour)
		return err
	})
	if err != nil {
		return nil, err
	}
	return slices.Clip(hours), nil
}

// hour reads one row; last is the time of the row before, zero for the first.
func (t *table) hour(h head, row []string, last time.Time) (weather.Hour, error) {
	at, err := t.time(h.cell(row, "time"), last)
	out := weather.Hour{At: at}
	if err != nil {
		return out, err
	}
	get := func(column string, lim limits) unit.Maybe[float64] {
		v, ok, e := t.number(column, h.cell(row, column), lim)
		if err == nil {
			err = e
		}
		return maybe(v, ok)
	}
	out.Air = toCelsius(get("air_c", celsius))
	out.DewPoint = toCelsius(get("dew_point_c", celsius))
	out.Wind = get("wind_ms", windSpeed)
	out.Cloud = get("cloud_fraction", fraction)
	out.Precip = get("precip_mm", hourRain)
	out.SnowDepth = get("snow_depth_cm", snowDepth)
	out.Shortwave = get("shortwave_wm2", radiation)
	return out, err
}

// time reads an instant on a full UTC hour, later than the one before.
func (t *table) time(text string, last time.Time) (time.Time, error) {
	const want = "write a full hour with its zone, like 2026-11-14T06:00:00Z or 2026-11-14T00:00:00-06:00"
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return time.Time{}, t.fault("time", what{NotATime, clip(text), rightTime}, fmt.Sprintf("%q is not an RFC 3339 time", clip(text)), want)
	}
	at = at.UTC()
	if y := at.Year(); y < firstYear || y > lastYear {
		return time.Time{}, t.fault("time", what{NotATime, text, rightTime}, fmt.Sprintf("the year %d is not possible", y), want)
	}
	if !at.Equal(at.Truncate(time.Hour)) {
		return time.Time{}, t.fault("time", what{NotATime, text, rightTime}, text+" is not a full hour", want)
	}
	if last.IsZero() || at.After(last) {
		return at, nil
	}
	if at.Equal(last) {
		return time.Time{}, t.fault("time", what{Twice, text, ""}, text+" is there twice", "one line for each hour")
	}
	return time.Time{}, t.fault("time", what{NotInOrder, text, ""}, text+" comes after a later hour", "sort the lines by time")
}

// readDays reads the daily form. Days out of order are put in place and
// counted: the archives of weather services have them, and a date, other than a
// clock time, cannot mean another.
func readDays(t *table, header []string) (days []Day, reordered int, err error) {
	h, err := t.strictHead(header, DailyColumns)
	if err != nil {
		return nil, 0, err
	}
	if err := t.need(h, "date", "tmin_c", "tmax_c"); err != nil {
		return nil, 0, err
	}
	seen := map[farm.Day]bool{}
	err = t.each(func(row []string) error {
		day, err := t.day(h, row, seen)
		if len(days) > 0 && day.Date < days[len(days)-1].Date {
			reordered++
		}
		days, seen[day.Date] = append(days, day), true
		return err
	})
	if err != nil {
		return nil, 0, err
	}
	slices.SortFunc(days, func(a, b Day) int { return strings.Compare(string(a.Date), string(b.Date)) })
	return slices.Clip(days), reordered, nil
}

func (t *table) day(h head, row []string, seen map[farm.Day]bool) (Day, error) {
	date, err := t.date(h.cell(row, "date"), seen)
	out := Day{Date: date}
	if err != nil {
		return out, err
	}
	get := func(column string, lim limits) unit.Maybe[float64] {
		v, ok, e := t.number(column, h.cell(row, column), lim)
		if err == nil {
			err = e
		}
		return maybe(v, ok)
	}
	out.Min = toCelsius(get("tmin_c", celsius))
	out.Max = toCelsius(get("tmax_c", celsius))
	out.Precip = get("precip_mm", dayRain)
	out.Snowfall = get("snowfall_cm", daySnow)
	out.SnowDepth = get("snow_depth_cm", snowDepth)
	if err == nil && inverted(out) {
		err = t.fault("tmin_c", what{MinAboveMax, "", ""}, "the minimum is above the maximum of the same day", "exchange them, or leave both empty")
	}
	return out, err
}

// date reads a calendar day that was not there before.
func (t *table) date(text string, seen map[farm.Day]bool) (farm.Day, error) {
	d, err := farm.ParseDay(text)
	if err != nil || !plausible(d) {
		return "", t.fault("date", what{NotADay, clip(text), "2026-11-14"}, fmt.Sprintf("%q is not a calendar day", clip(text)), "write it like 2026-11-14")
	}
	if seen[d] {
		return "", t.fault("date", what{Twice, text, ""}, text+" is there twice", "one line for each day")
	}
	return d, nil
}

func plausible(d farm.Day) bool {
	return d >= farm.Day(fmt.Sprintf("%04d-01-01", firstYear)) && d < farm.Day(fmt.Sprintf("%04d-01-01", lastYear+1))
}

func inverted(d Day) bool {
	lo, okLo := d.Min.Get()
	hi, okHi := d.Max.Get()
	return okLo && okHi && lo > hi
}

func maybe(v float64, ok bool) unit.Maybe[float64] {
	if !ok {
		return unit.None[float64]()
	}
	return unit.Some(v)
}

func toCelsius(m unit.Maybe[float64]) unit.Maybe[unit.Celsius] {
	v, ok := m.Get()
	if !ok {
		return unit.None[unit.Celsius]()
	}
	return unit.Some(unit.Celsius(v))
}
