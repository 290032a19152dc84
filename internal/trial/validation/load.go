package validation

import (
	"compress/gzip"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strconv"
	"strings"

	"winterstand/internal/science/microclimate"
)

// SitesFile is the list of stations in a folder of observations.
const SitesFile = "sites.csv"

// Load reads every station of a folder. SitesFile has one row a station:
//
//	site,file,latitude,longitude,elevation_m,soil,surface
//
// with soil a key of microclimate's soils (empty: loam) and surface bare, stand,
// grass or litter (empty: grass). Each file is a CSV, or one compressed as .gz,
// with a header in any order: time (RFC 3339, hourly, rising) and air_c are
// required, soil_5cm_c, soil_10cm_c … give the soil temperatures by depth, at
// least one; dew_point_c or humidity_fraction, wind_ms (at 10 m), cloud_fraction,
// precip_mm, snow_depth_cm and shortwave_wm2 as they are known. An empty cell is
// missing. Errors name file, line and column.
func Load(folder fs.FS) ([]Station, error) {
	f, err := folder.Open(SitesFile)
	if err != nil {
		return nil, fmt.Errorf("list of stations: %w", err)
	}
	defer f.Close()
	t, err := openTable(SitesFile, f)
	if err != nil {
		return nil, err
	}
	if err := t.knows(siteColumns[:]...); err != nil {
		return nil, err
	}
	var all []Station
	for {
		row, err := t.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		st, err := t.station(folder, row)
		if err != nil {
			return nil, err
		}
		all = append(all, st)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%s: no station", SitesFile)
	}
	return all, nil
}

var siteColumns = [...]string{"site", "file", "latitude", "longitude", "elevation_m", "soil", "surface"}

func (t *table) station(folder fs.FS, row []string) (Station, error) {
	var st Station
	var err error
	st.Name = t.cell(row, "site")
	soil, err := microclimate.ParseSoil(t.cell(row, "soil"))
	if err != nil {
		return st, t.wrong("soil", err)
	}
	st.Site.Soil = soil
	st.Surface = microclimate.Surface(t.cell(row, "surface"))
	if st.Surface == "" {
		st.Surface = microclimate.Grass
	}
	on := microclimate.Dressing{Surface: st.Surface}
	if err := on.Check(); err != nil {
		return st, t.wrong("surface", err)
	}
	for _, c := range []struct {
		column string
		to     *float64
	}{{"latitude", &st.Site.Latitude}, {"longitude", &st.Site.Longitude}, {"elevation_m", &st.Site.ElevationM}} {
		if *c.to, err = strconv.ParseFloat(t.cell(row, c.column), 64); err != nil {
			return st, t.wrong(c.column, fmt.Errorf("%q: must be a number", t.cell(row, c.column)))
		}
	}
	if err := st.Site.Check(); err != nil {
		return st, fmt.Errorf("%s line %d: %w", t.file, t.line, err)
	}
	return st, readStation(folder, t.cell(row, "file"), &st)
}

func readStation(folder fs.FS, name string, st *Station) error {
	f, err := folder.Open(name)
	if err != nil {
		return fmt.Errorf("station %s: %w", st.Name, err)
	}
	defer f.Close()
	var r io.Reader = f
	if strings.HasSuffix(name, ".gz") {
		z, err := gzip.NewReader(f)
		if err != nil {
			return fmt.Errorf("station %s: %s: %w", st.Name, name, err)
		}
		defer z.Close()
		r = z
	}
	st.Depths, st.Rows, err = ReadRows(name, r)
	if err != nil {
		return err
	}
	return st.Check()
}

// table is a CSV with a header, read row by row.
type table struct {
	file   string
	csv    *csv.Reader
	column map[string]int
	header []string
	line   int
}

func openTable(file string, r io.Reader) (*table, error) {
	t := &table{file: file, csv: csv.NewReader(r), column: map[string]int{}}
	t.csv.ReuseRecord = true
	header, err := t.csv.Read()
	if err != nil {
		return nil, fmt.Errorf("%s: header: %w", file, err)
	}
	t.header = append(t.header, header...)
	for i, name := range t.header {
		name = strings.TrimSpace(strings.TrimPrefix(name, "\ufeff"))
		if _, twice := t.column[name]; twice {
			return nil, fmt.Errorf("%s line 1: column %q stands twice", file, name)
		}
		t.header[i] = name
		t.column[name] = i
	}
	return t, nil
}

// knows refuses a header with other columns or without one of them.
func (t *table) knows(names ...string) error {
	for _, n := range names {
		if _, ok := t.column[n]; !ok {
			return fmt.Errorf("%s line 1: column %q is missing", t.file, n)
		}
	}
	if len(t.header) != len(names) {
		return fmt.Errorf("%s line 1: must have the columns %s and no others", t.file, strings.Join(names, ", "))
	}
	return nil
}

// next row; io.EOF at the end.
func (t *table) next() ([]string, error) {
	row, err := t.csv.Read()
	if errors.Is(err, io.EOF) {
		return nil, io.EOF
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", t.file, err)
	}
	t.line, _ = t.csv.FieldPos(0)
	return row, nil
}

func (t *table) cell(row []string, column string) string {
	i, ok := t.column[column]
	if !ok {
		return ""
	}
	return strings.TrimSpace(row[i])
}

func (t *table) wrong(column string, err error) error {
	return fmt.Errorf("%s line %d, column %s: %w", t.file, t.line, column, err)
}
