// Package weatherfile reads files of past weather: the program's own hourly and
// daily CSV, NOAA GHCN-Daily in its three forms, and archives of forecast lows.
// It reads from an io.Reader; the name is for messages, and a name that ends in
// .gz is unpacked.
//
// An empty cell is missing, never zero. Anything that cannot be understood is
// refused with file, line, column and what would be right; a column nobody
// knows is refused too, because a misspelt one would be missing in silence.
package weatherfile

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Form says how a file was written.
type Form string

// Forms that Read knows.
const (
	Hourly    Form = "hourly"             // time,air_c,…
	Daily     Form = "daily"              // date,tmin_c,tmax_c,…
	GHCNList  Form = "GHCN-Daily list"    // one element of one day a line, CSV
	GHCNTable Form = "GHCN-Daily table"   // one day a line, CSV with TMIN, TMAX columns
	GHCNFixed Form = "GHCN-Daily monthly" // .dly, one element of one month a line
)

// Day is one calendar day of a station, in the station's own zone.
type Day struct {
	Date      farm.Day
	Min, Max  unit.Maybe[unit.Celsius]
	Precip    unit.Maybe[float64] // mm liquid equivalent
	Snowfall  unit.Maybe[float64] // cm of new snow
	SnowDepth unit.Maybe[float64] // cm
	MaxFilled bool                // Max is an estimate of FillMax, not a reading
}

// File is what was read: Hours or Days, in order of time, each at most once.
// Hours and days that the file leaves out are simply not there.
type File struct {
	Form      Form
	Hours     []weather.Hour
	Days      []Day
	Reordered int                 // days that stood out of order and were put in place
	Station   string              // GHCN only
	Latitude  unit.Maybe[float64] // where the file says it, degrees north
	Longitude unit.Maybe[float64] // degrees east
	Elevation unit.Maybe[float64] // m
	Dropped   map[string]int      // values left out, by reason
}

// Units of a GHCN-Daily table, which its own header does not state.
type Units string

// Units that NOAA hands out.
const (
	UnitsTenths Units = "tenths" // tenths of °C and of mm; snow in mm
	UnitsMetric Units = "metric" // °C, mm
	UnitsUS     Units = "us"     // °F, inches
)

// Options are what the caller has to add; the zero value does for every form
// but a GHCN-Daily table and a file of several stations.
type Options struct {
	Units   Units  // of a GHCN-Daily table
	Station string // which station, where the file holds several
}

// MaxBytes bounds what is unpacked from one file: two centuries of hours with
// every column are about 120 MB (own default).
const MaxBytes = 512 << 20

// Read reads a weather file of any form and says which it was.
func Read(r io.Reader, name string, opt Options) (File, error) {
	src, err := open(r, name)
	if err != nil {
		return File{}, err
	}
	if fixed(src, name) {
		return readFixed(src, name, opt)
	}
	t := newTable(src, name)
	first, err := t.next()
	if errors.Is(err, io.EOF) {
		return File{}, fault(name, 1, "", what{Empty, "", ""}, "the file is empty", "the first line names the columns, like time,air_c or date,tmin_c,tmax_c")
	}
	if err != nil {
		return File{}, err
	}
	switch head := headOf(first); {
	case isListRow(first):
		t.unread(first)
		return readList(t, listOrder, opt)
	case head.has("DATE") && head.has("ELEMENT"):
		return readList(t, listHeader(head), opt)
	case head.has("STATION") && head.has("DATE"):
		return readWide(t, head, opt)
	}
	return readOwn(t, first)
}

// open unpacks by name, drops a byte order mark and bounds the length.
func open(r io.Reader, name string) (*bufio.Reader, error) {
	if strings.HasSuffix(strings.ToLower(name), ".gz") {
		z, err := gzip.NewReader(r)
		if err != nil {
			return nil, fmt.Errorf("%s: its name says gzip but it cannot be unpacked: %w", name, err)
		}
		r = z
	}
	src := bufio.NewReaderSize(&bounded{r: r, left: MaxBytes, name: name}, 1<<16)
	if mark, _ := src.Peek(3); bytes.Equal(mark, []byte("\xef\xbb\xbf")) {
		_, _ = src.Discard(3)
	}
	return src, nil
}

// bounded is an io.LimitReader that says so instead of ending quietly.
type bounded struct {
	r    io.Reader
	left int64
	name string
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, fmt.Errorf("%s: longer than %d MB unpacked; split it", b.name, MaxBytes>>20)
	}
	if int64(len(p)) > b.left {
		p = p[:b.left]
	}
	n, err := b.r.Read(p)
	b.left -= int64(n)
	return n, err
}
