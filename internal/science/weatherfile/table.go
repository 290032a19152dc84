package weatherfile

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Fault says what is wrong in a file, where, and what would be right.
type Fault struct {
	File    string
	Line    int
	Column  string // empty: the line as a whole
	What    What
	Found   string // what stands there, as it is
	Right   string // what would be right, in signs that need no language; may be empty
	Problem string // the same in English words, for whoever runs the program
	Want    string
}

// What is a kind of fault.
type What string

// Faults.
const (
	Empty         What = "empty"          // the file
	NoRows        What = "no_rows"        // nothing follows the header
	NoHeader      What = "no_header"      // the first line names no columns of a weather file
	ColumnMissing What = "column_missing" //
	ColumnUnknown What = "column_unknown" //
	ColumnTwice   What = "column_twice"   //
	Cells         What = "cells"          // another number of cells than in the first line
	NotCSV        What = "not_csv"        //
	NotANumber    What = "number"         //
	Impossible    What = "impossible"     // a value
	NotADay       What = "day"            //
	NotATime      What = "time"           //
	Twice         What = "twice"          // the same day or hour
	NotInOrder    What = "order"          // an hour after a later one
	MinAboveMax   What = "min_max"        //
	UnitsUnsaid   What = "units"          // of a table whose header does not state them
	Station       What = "station"        // another than the one wanted, or none of it
	NoValues      What = "no_values"      // nothing in it that can be used
	NotInForm     What = "form"           // a line that is not as the format lays down
	Disagree      What = "disagree"       // cells of one line contradict each other
)

// Whats lists every kind of fault.
func Whats() []What {
	return []What{Empty, NoRows, NoHeader, ColumnMissing, ColumnUnknown, ColumnTwice, Cells, NotCSV, NotANumber, Impossible, NotADay, NotATime,
		Twice, NotInOrder, MinAboveMax, UnitsUnsaid, Station, NoValues, NotInForm, Disagree}
}

// what is a fault without its place.
type what struct {
	is           What
	found, right string
}

func (f *Fault) Error() string {
	where := fmt.Sprintf("%s line %d", f.File, f.Line)
	if f.Column != "" {
		where += ", column " + f.Column
	}
	return fmt.Sprintf("%s: %s; %s", where, f.Problem, f.Want)
}

func fault(file string, line int, column string, w what, problem, want string) error {
	return &Fault{File: file, Line: line, Column: column, What: w.is, Found: w.found, Right: w.right, Problem: problem, Want: want}
}

// table reads CSV rows and knows the line of the last one.
type table struct {
	name string
	csv  *csv.Reader
	line int
	back []string // an unread row
}

func newTable(src *bufio.Reader, name string) *table {
	c := csv.NewReader(src)
	c.ReuseRecord = true
	c.TrimLeadingSpace = true
	return &table{name: name, csv: c}
}

// next gives the next row, valid until the next call; io.EOF at the end.
func (t *table) next() ([]string, error) {
	if row := t.back; row != nil {
		t.back = nil
		return row, nil
	}
	row, err := t.csv.Read()
	if err == nil {
		t.line, _ = t.csv.FieldPos(0)
		return row, nil
	}
	if errors.Is(err, io.EOF) {
		return nil, io.EOF
	}
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return nil, fmt.Errorf("read %s after line %d: %w", t.name, t.line, err)
	}
	if errors.Is(err, csv.ErrFieldCount) {
		return nil, fault(t.name, p.Line, "", what{Cells, strconv.Itoa(len(row)), strconv.Itoa(t.csv.FieldsPerRecord)}, fmt.Sprintf("%d cells where the first line has %d", len(row), t.csv.FieldsPerRecord), "every line has the same number of cells; leave a missing one empty between its commas")
	}
	return nil, fault(t.name, p.Line, "", what{NotCSV, "", ""}, p.Err.Error(), "write plain comma-separated values, quotes only around a whole cell")
}

// unread gives the last row to the next call of next.
func (t *table) unread(row []string) { t.back = row }

// fault names a cell of the last row.
func (t *table) fault(column string, w what, problem, want string) error {
	return fault(t.name, t.line, column, w, problem, want)
}

// head maps column names to positions.
type head map[string]int

func (h head) has(column string) bool { _, ok := h[column]; return ok }

// cell is the text of a column, empty where the table has no such column.
func (h head) cell(row []string, column string) string {
	i, ok := h[column]
	if !ok || i >= len(row) {
		return ""
	}
	return strings.TrimSpace(row[i])
}

// headOf reads a header as NOAA writes it; of a doubled name the first counts.
func headOf(row []string) head {
	h := head{}
	for i, cell := range row {
		name := strings.ToUpper(strings.TrimSpace(cell))
		if !h.has(name) {
			h[name] = i
		}
	}
	return h
}

// strictHead reads the program's own header: known columns only, each once.
func (t *table) strictHead(row []string, known []string) (head, error) {
	h := head{}
	for _, cell := range row {
		name := strings.ToLower(strings.TrimSpace(cell))
		if !slices.Contains(known, name) {
			return nil, t.fault(strconv.Quote(clip(cell)), what{ColumnUnknown, clip(cell), strings.Join(known, ", ")}, "no such column", "known columns, separated by commas: "+strings.Join(known, ", "))
		}
		if h.has(name) {
			return nil, t.fault(name, what{ColumnTwice, name, ""}, "named twice", "each column once")
		}
		h[name] = len(h)
	}
	return h, nil
}

// number reads a decimal number within limits; empty is (0, false). Words that
// strconv would take for a number, NaN and Inf among them, are refused.
func (t *table) number(column, text string, lim limits) (float64, bool, error) {
	if text == "" {
		return 0, false, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || strings.Trim(text, "+-.0123456789eE") != "" {
		return 0, false, t.fault(column, what{NotANumber, clip(text), "12.5"}, fmt.Sprintf("%q is not a number", clip(text)), "write "+lim.what+" with a decimal point, or leave the cell empty where it is missing")
	}
	if v < lim.low || v > lim.high {
		return 0, false, t.fault(column, what{Impossible, clip(text), fmt.Sprintf("%g … %g", lim.low, lim.high)}, fmt.Sprintf("%s is not possible", clip(text)), fmt.Sprintf("write %s between %g and %g, or leave the cell empty where it is missing", lim.what, lim.low, lim.high))
	}
	return v, true, nil
}

func clip(s string) string {
	if len(s) <= 40 {
		return s
	}
	return strings.ToValidUTF8(s[:40], "") + "…"
}

// limits are the bounds of a quantity: a little wider than the records of the
// world, so that a wrong unit or a -9999 does not pass (own defaults).
type limits struct {
	what      string
	low, high float64
}

var (
	celsius    = limits{"degrees Celsius", -80, 60}
	fahrenheit = limits{"degrees Fahrenheit", -112, 140}
	windSpeed  = limits{"metres per second", 0, 115}
	fraction   = limits{"a fraction, 1 for all,", 0, 1}
	hourRain   = limits{"millimetres in the hour", 0, 400}
	dayRain    = limits{"millimetres in the day", 0, 2000}
	daySnow    = limits{"centimetres of new snow", 0, 300}
	snowDepth  = limits{"centimetres", 0, 1500}
	radiation  = limits{"watts per square metre", 0, 1500}
)
