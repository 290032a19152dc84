package replay

import (
	"encoding/csv"
	"io"
	"strconv"
	"time"
)

// Table writes rows as CSV, the header first.
type Table struct {
	csv    *csv.Writer
	depths []float64
	bands  bool
	began  bool
}

// NewTable writes to out; bands adds the percentiles.
func NewTable(out io.Writer, depths []float64, bands bool) *Table {
	return &Table{csv: csv.NewWriter(out), depths: depths, bands: bands}
}

// Write adds rows.
func (t *Table) Write(rows []Row) error {
	if !t.began {
		t.began = true
		if err := t.csv.Write(t.header()); err != nil {
			return err
		}
	}
	for i := range rows {
		if err := t.csv.Write(t.cells(&rows[i])); err != nil {
			return err
		}
	}
	t.csv.Flush()
	return t.csv.Error()
}

func (t *Table) header() []string {
	h := []string{"time", "air_c", "leaf_c", "tolerance_c", "kill_fraction", "survival", "quality", "snow_cm", "frozen_cm"}
	for _, cm := range t.depths {
		h = append(h, "soil_"+depth(cm)+"_c")
	}
	h = append(h, "workable")
	if !t.bands {
		return h
	}
	percentiles := func(name, unit string) {
		for _, p := range []string{"_p10", "_p50", "_p90"} {
			h = append(h, name+p+unit)
		}
	}
	percentiles("leaf", "_c")
	for _, cm := range t.depths {
		percentiles("soil_"+depth(cm), "_c")
	}
	percentiles("survival", "")
	percentiles("quality", "")
	return h
}

func depth(cm float64) string { return strconv.FormatFloat(cm, 'f', -1, 64) + "cm" }

// Decimals of a cell: temperatures, shares, depths.
const (
	degrees = 2
	shares  = 4
	depths  = 1
)

func number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if z, err := strconv.ParseFloat(s, 64); err == nil && z == 0 {
		return strconv.FormatFloat(0, 'f', decimals, 64) // no minus zero
	}
	return s
}

func (t *Table) cells(r *Row) []string {
	c := []string{
		r.At.UTC().Format(time.RFC3339), number(float64(r.Air), degrees), number(float64(r.Leaf), degrees),
		number(float64(r.Tolerance), degrees), number(r.Kill, shares), number(r.Survival, shares), number(r.Quality, shares),
		number(r.SnowCm, depths), number(r.FrozenCm, depths),
	}
	for _, s := range r.Soil {
		c = append(c, number(float64(s), degrees))
	}
	c = append(c, strconv.FormatBool(r.Workable))
	if r.Bands == nil {
		return c
	}
	band := func(b Band, decimals int) {
		c = append(c, number(b.P10, decimals), number(b.P50, decimals), number(b.P90, decimals))
	}
	band(r.Bands.Leaf, degrees)
	for _, b := range r.Bands.Soil {
		band(b, degrees)
	}
	band(r.Bands.Survival, shares)
	band(r.Bands.Quality, shares)
	return c
}
