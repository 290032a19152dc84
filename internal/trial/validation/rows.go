package validation

import (
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// ReadRows reads a station's hours; file is its name for errors. The form is
// that of Load.
func ReadRows(file string, r io.Reader) (depths []float64, rows []Row, err error) {
	t, err := openTable(file, r)
	if err != nil {
		return nil, nil, err
	}
	depths, err = t.soilDepths()
	if err != nil {
		return nil, nil, err
	}
	for {
		cells, err := t.next()
		if errors.Is(err, io.EOF) {
			return depths, rows, nil
		}
		if err != nil {
			return nil, nil, err
		}
		row, err := t.hour(cells, depths)
		if err != nil {
			return nil, nil, err
		}
		rows = append(rows, row)
	}
}

var hourColumns = map[string]bool{
	"time": true, "air_c": true, "dew_point_c": false, "humidity_fraction": false, "wind_ms": false,
	"cloud_fraction": false, "precip_mm": false, "snow_depth_cm": false, "shortwave_wm2": false,
}

// soilDepths reads the depths out of the header and refuses a column it does not know.
func (t *table) soilDepths() ([]float64, error) {
	var depths []float64
	for _, name := range t.header {
		if _, known := hourColumns[name]; known {
			continue
		}
		d, ok := depthOf(name)
		if !ok {
			return nil, fmt.Errorf("%s line 1: column %q: must be time, air_c, soil_5cm_c or another of the known ones", t.file, name)
		}
		depths = append(depths, d)
	}
	for name, required := range hourColumns {
		if _, ok := t.column[name]; required && !ok {
			return nil, fmt.Errorf("%s line 1: column %q is missing", t.file, name)
		}
	}
	if len(depths) == 0 {
		return nil, fmt.Errorf("%s line 1: no soil temperature column such as soil_5cm_c", t.file)
	}
	sort.Float64s(depths)
	return depths, nil
}

// depthOf "soil_5cm_c" is 5.
func depthOf(name string) (float64, bool) {
	s, ok := strings.CutPrefix(name, "soil_")
	if !ok {
		return 0, false
	}
	if s, ok = strings.CutSuffix(s, "cm_c"); !ok {
		return 0, false
	}
	d, err := strconv.ParseFloat(s, 64)
	return d, err == nil && d >= 0 && d <= 100*microclimate.ColumnM && columnOf(d) == name
}

func columnOf(depth float64) string {
	return "soil_" + strconv.FormatFloat(depth, 'f', -1, 64) + "cm_c"
}

func (t *table) hour(cells []string, depths []float64) (Row, error) {
	at, err := time.Parse(time.RFC3339, t.cell(cells, "time"))
	if err != nil {
		return Row{}, t.wrong("time", fmt.Errorf("%q: must be RFC 3339 like 2026-01-31T05:00:00Z", t.cell(cells, "time")))
	}
	row := Row{Hour: weather.Hour{At: at.UTC()}, Soil: make([]unit.Maybe[unit.Celsius], len(depths))}
	humidity := unit.None[float64]()
	for _, c := range []struct {
		column string
		lo, hi float64
		set    func(float64)
	}{
		{"air_c", -90, 65, func(v float64) { row.Hour.Air = unit.Some(unit.Celsius(v)) }},
		{"dew_point_c", -120, 65, func(v float64) { row.Hour.DewPoint = unit.Some(unit.Celsius(v)) }},
		{"humidity_fraction", 0, 1.05, func(v float64) { humidity = unit.Some(v) }},
		{"wind_ms", 0, 120, func(v float64) { row.Hour.Wind = unit.Some(v) }},
		{"cloud_fraction", 0, 1, func(v float64) { row.Hour.Cloud = unit.Some(v) }},
		{"precip_mm", 0, 500, func(v float64) { row.Hour.Precip = unit.Some(v) }},
		{"snow_depth_cm", 0, 3000, func(v float64) { row.Hour.SnowDepth = unit.Some(v) }},
		{"shortwave_wm2", 0, 1500, func(v float64) { row.Hour.Shortwave = unit.Some(v) }},
	} {
		if err := t.number(cells, c.column, c.lo, c.hi, c.set); err != nil {
			return Row{}, err
		}
	}
	for i, d := range depths {
		set := func(v float64) { row.Soil[i] = unit.Some(unit.Celsius(v)) }
		if err := t.number(cells, columnOf(d), -60, 70, set); err != nil {
			return Row{}, err
		}
	}
	dewFrom(&row.Hour, humidity)
	return row, nil
}

// number hands a cell's number on; an empty cell and a column that is not there are missing.
func (t *table) number(cells []string, column string, lo, hi float64, set func(float64)) error {
	s := t.cell(cells, column)
	if s == "" {
		return nil
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || v < lo || v > hi {
		return t.wrong(column, fmt.Errorf("%q: must be a number between %v and %v, or empty where it is missing", s, lo, hi))
	}
	set(v)
	return nil
}

func dewFrom(h *weather.Hour, humidity unit.Maybe[float64]) {
	air, ok := h.Air.Get()
	rh, okRH := humidity.Get()
	if ok && okRH && rh > 0 && !h.DewPoint.Known() {
		h.DewPoint = unit.Some(microclimate.DewPoint(air, math.Min(1, rh)))
	}
}
