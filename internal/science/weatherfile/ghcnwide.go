package weatherfile

import (
	"fmt"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

var elements = []string{"TMIN", "TMAX", "PRCP", "SNOW", "SNWD"}

// rawNumber bounds a number before its unit is known.
var rawNumber = limits{"a number", -1e6, 1e6}

// readWide reads the table form: one day a line, flags in TMIN_ATTRIBUTES and
// so on as "measurement,quality,source".
func readWide(t *table, h head, opt Options) (File, error) {
	switch opt.Units {
	case UnitsTenths, UnitsMetric, UnitsUS:
	default:
		return File{}, t.fault("", what{UnitsUnsaid, "", "tenths, metric, us"}, "a GHCN-Daily table does not say its units", "say which: tenths (of °C and mm, as in NOAA's access folder), metric (°C, mm) or us (°F, inches)")
	}
	if !h.has("TMIN") || !h.has("TMAX") {
		return File{}, t.fault("TMIN", what{ColumnMissing, "TMIN, TMAX", ""}, "TMIN or TMAX is missing from the header", "order the table with both")
	}
	g := newGHCN(opt)
	var place [3]unit.Maybe[float64]
	err := t.each(func(row []string) error { return g.wideRow(t, h, row, opt.Units, &place) })
	if err != nil {
		return File{}, err
	}
	f, err := g.file(GHCNTable, t.name, t.line)
	f.Latitude, f.Longitude, f.Elevation = place[0], place[1], place[2]
	return f, err
}

func (g *ghcn) wideRow(t *table, h head, row []string, units Units, place *[3]unit.Maybe[float64]) error {
	station := h.cell(row, "STATION")
	if ok, other := g.takes(station); other != "" {
		return t.manyStations(other, station)
	} else if !ok {
		return nil
	}
	date, ok := ghcnDate(h.cell(row, "DATE"))
	if !ok {
		return t.fault("DATE", what{NotADay, clip(h.cell(row, "DATE")), "2026-11-14"}, fmt.Sprintf("%q is not a calendar day", clip(h.cell(row, "DATE"))), "write it like 2026-11-14")
	}
	if _, twice := g.days[date]; twice {
		return t.fault("DATE", what{Twice, string(date), ""}, string(date)+" is there twice", "one line for each day")
	}
	g.touch(date)
	for _, e := range elements {
		if err := g.cell(t, date, e, e, h.cell(row, e), qualityOf(h.cell(row, e+"_ATTRIBUTES")), units); err != nil {
			return err
		}
	}
	return t.place(h, row, place)
}

// place reads where the station stands, from the last row that says it.
func (t *table) place(h head, row []string, place *[3]unit.Maybe[float64]) error {
	for i, c := range []struct {
		column string
		lim    limits
	}{{"LATITUDE", limits{"degrees north", -90, 90}}, {"LONGITUDE", limits{"degrees east", -180, 180}}, {"ELEVATION", limits{"metres", -1000, 9999.9}}} {
		v, ok, err := t.number(c.column, h.cell(row, c.column), c.lim)
		if err != nil {
			return err
		}
		if ok && v != -999.9 && v != 9999.9 {
			place[i] = unit.Some(v)
		}
	}
	return nil
}

func qualityOf(attributes string) string {
	parts := strings.Split(attributes, ",")
	if len(parts) < 2 {
		return ""
	}
	return strings.TrimSpace(parts[1])
}

// cell reads one raw value: missing, dropped for its quality flag, or stored.
func (g *ghcn) cell(t *table, date farm.Day, element, column, text, quality string, units Units) error {
	raw, ok, err := t.number(column, text, rawNumber)
	if err != nil {
		return err
	}
	if !ok || raw == missingGHCN || raw == -missingGHCN {
		return nil
	}
	if quality != "" {
		g.dropped[DroppedQuality]++
		return nil
	}
	if problem := g.put(date, element, scale(units, element, raw)); problem != "" {
		return t.fault(column, what{Impossible, clip(text), ""}, problem, "check the units and take the file as NOAA gives it")
	}
	return nil
}
