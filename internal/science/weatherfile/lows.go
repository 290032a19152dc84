package weatherfile

import (
	"errors"
	"fmt"
	"io"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Low is one forecast of one night's minimum, as an archive keeps it.
type Low struct {
	Station  string
	Issued   unit.Maybe[time.Time] // the instant, where the archive has it
	IssuedOn farm.Day              // the day; of an instant, its day as written, in its own zone
	Morning  farm.Day              // the day on whose morning the minimum falls
	LeadDays int
	Low      unit.Celsius
}

// LowColumns are the columns of an archive of forecast lows, with low_f or low_c.
var LowColumns = []string{"station", "issued", "morning", "lead_days", "low_f", "low_c"}

// MaxLeadDays bounds lead_days (own default: no public forecast reaches further).
const MaxLeadDays = 46

// ReadLows reads an archive of forecast lows:
//
//	station,issued,morning,lead_days,low_f
//	MKE,2024-01-11T12:00:00Z,2024-01-12,1,14
//
// issued is an RFC 3339 time or a calendar day; low_c may stand for low_f. A
// row whose low is empty is left out and counted in skipped.
func ReadLows(r io.Reader, name string) (lows []Low, skipped int, err error) {
	src, err := open(r, name)
	if err != nil {
		return nil, 0, err
	}
	t := newTable(src, name)
	first, err := t.next()
	if errors.Is(err, io.EOF) {
		return nil, 0, fault(name, 1, "", what{Empty, "", ""}, "the file is empty", "the first line is station,issued,morning,lead_days,low_f")
	}
	if err != nil {
		return nil, 0, err
	}
	h, err := t.lowHead(first)
	if err != nil {
		return nil, 0, err
	}
	seen := map[Low]bool{}
	err = t.each(func(row []string) error {
		low, ok, err := t.low(h, row)
		if err != nil {
			return err
		}
		if !ok {
			skipped++
			return nil
		}
		key := low
		key.Low = 0
		if seen[key] {
			return t.fault("", what{Twice, "", ""}, "the same forecast is there twice", "one line for each station, issue and morning")
		}
		seen[key] = true
		lows = append(lows, low)
		return nil
	})
	if err != nil {
		return nil, 0, err
	}
	return lows, skipped, nil
}

func (t *table) lowHead(first []string) (head, error) {
	h, err := t.strictHead(first, LowColumns)
	if err != nil {
		return nil, err
	}
	if err := t.need(h, "station", "issued", "morning", "lead_days"); err != nil {
		return nil, err
	}
	if h.has("low_f") == h.has("low_c") {
		return nil, t.fault("low_f", what{ColumnMissing, "low_f, low_c", ""}, "the header must have one of low_f and low_c", "low_f for degrees Fahrenheit, low_c for degrees Celsius")
	}
	return h, nil
}

func (t *table) low(h head, row []string) (out Low, ok bool, err error) {
	if out.Station = h.cell(row, "station"); out.Station == "" {
		return out, false, t.fault("station", what{Station, "", ""}, "empty", "name the place of the forecast")
	}
	if err = t.issue(&out, h.cell(row, "issued")); err != nil {
		return out, false, err
	}
	morning := h.cell(row, "morning")
	if out.Morning, err = farm.ParseDay(morning); err != nil || !plausible(out.Morning) {
		return out, false, t.fault("morning", what{NotADay, clip(morning), "2024-01-12"}, fmt.Sprintf("%q is not a calendar day", clip(morning)), "write the day on whose morning the low falls, like 2024-01-12")
	}
	if err = t.lead(&out, h.cell(row, "lead_days")); err != nil {
		return out, false, err
	}
	column, lim := "low_f", fahrenheit
	if h.has("low_c") {
		column, lim = "low_c", celsius
	}
	v, ok, err := t.number(column, h.cell(row, column), lim)
	if column == "low_f" {
		out.Low = unit.FromFahrenheit(v)
	} else {
		out.Low = unit.Celsius(v)
	}
	return out, ok, err
}

func (t *table) issue(out *Low, text string) error {
	if day, err := farm.ParseDay(text); err == nil && plausible(day) {
		out.IssuedOn = day
		return nil
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil || at.Year() < firstYear || at.Year() > lastYear {
		return t.fault("issued", what{NotATime, clip(text), "2024-01-11T12:00:00Z"}, fmt.Sprintf("%q is not a time", clip(text)), "write it like 2024-01-11T12:00:00Z, or the day alone like 2024-01-11")
	}
	out.Issued, out.IssuedOn = unit.Some(at.UTC()), farm.Day(at.Format(time.DateOnly))
	return nil
}

// lead checks lead_days against the two dates: issued in one zone and a morning
// in another may differ by a day, more is a mistake.
func (t *table) lead(out *Low, text string) error {
	v, ok, err := t.number("lead_days", text, limits{"whole days", 0, MaxLeadDays})
	if err != nil {
		return err
	}
	if !ok || v != float64(int(v)) {
		return t.fault("lead_days", what{NotANumber, clip(text), "0"}, fmt.Sprintf("%q is not a number of days", clip(text)), "write whole days from the issue to the morning, 0 or more")
	}
	out.LeadDays = int(v)
	if off := daysBetween(out.IssuedOn, out.Morning) - out.LeadDays; off < -1 || off > 1 {
		return t.fault("lead_days", what{Disagree, fmt.Sprint(out.LeadDays), fmt.Sprint(out.LeadDays + off)}, fmt.Sprintf("%d, but from %s to %s it is %d", out.LeadDays, out.IssuedOn, out.Morning, out.LeadDays+off), "make the three agree")
	}
	return nil
}

// daysBetween counts calendar days from a to b; both are valid.
func daysBetween(a, b farm.Day) int {
	return int(b.Start(time.UTC).Sub(a.Start(time.UTC)) / (24 * time.Hour))
}
