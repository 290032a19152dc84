package weatherfile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/farm"
)

// Columns of a .dly line, counted from 0 (readme.txt, section III): station
// 0-10, year 11-14, month 15-16, element 17-20, then 31 times a value of five
// characters and the flags M, Q and S.
const (
	fixedHead = 21
	fixedCell = 8
	fixedLine = fixedHead + 31*fixedCell
)

var fixedStart = regexp.MustCompile(`^[A-Z]{2}[A-Z0-9][A-Z0-9_-]{8}\d{6}[A-Z][A-Z0-9]{3}[ -]`)

// fixed tells a .dly file by its name or its first characters.
func fixed(src *bufio.Reader, name string) bool {
	if strings.HasSuffix(strings.TrimSuffix(strings.ToLower(name), ".gz"), ".dly") {
		return true
	}
	start, _ := src.Peek(fixedHead + 1)
	return fixedStart.Match(start)
}

// readFixed reads the .dly form.
func readFixed(src *bufio.Reader, name string, opt Options) (File, error) {
	g := newGHCN(opt)
	lines := bufio.NewScanner(src)
	t := &table{name: name}
	for lines.Scan() {
		t.line++
		text := strings.TrimRight(lines.Text(), "\r\n")
		if text == "" {
			continue
		}
		if err := g.fixedLine(t, text); err != nil {
			return File{}, err
		}
	}
	if err := lines.Err(); errors.Is(err, bufio.ErrTooLong) {
		return File{}, fault(name, t.line+1, "", what{NotInForm, "", ""}, "the line does not end", "lines of 269 characters")
	} else if err != nil && !errors.Is(err, io.EOF) {
		return File{}, fmt.Errorf("read %s after line %d: %w", name, t.line, err)
	}
	return g.file(GHCNFixed, name, max(1, t.line))
}

func (g *ghcn) fixedLine(t *table, text string) error {
	if len(text) < fixedLine {
		// Trailing blanks are the last day's flags; editors and mail cut them.
		text += strings.Repeat(" ", min(3, fixedLine-len(text)))
	}
	if len(text) != fixedLine || !stationID.MatchString(text[:11]) {
		return t.fault("", what{NotInForm, clip(text), ""}, fmt.Sprintf("%d characters starting %q", len(text), clip(text)), "a .dly line is a station of 11 characters, year, month, element and 31 values, 269 characters in all")
	}
	month, err := time.Parse("200601", text[11:17])
	if err != nil || month.Year() < firstYear || month.Year() > lastYear {
		return t.fault("12-17", what{NotADay, text[11:17], "202611"}, fmt.Sprintf("%q is not a year and month", text[11:17]), "write them like 202611")
	}
	if ok, other := g.takes(text[:11]); other != "" {
		return t.manyStations(other, text[:11])
	} else if !ok || !used(text[17:21]) {
		return nil
	}
	for day := range 31 {
		if err := g.fixedValue(t, month, day, text[17:21], text[fixedHead+day*fixedCell:][:fixedCell]); err != nil {
			return err
		}
	}
	return nil
}

// fixedValue reads value and flags of the day-th day (from 0) of a month.
func (g *ghcn) fixedValue(t *table, month time.Time, day int, element, cell string) error {
	column := fmt.Sprintf("VALUE%d", day+1)
	raw, err := strconv.Atoi(strings.TrimSpace(cell[:5]))
	if err != nil {
		return t.fault(column, what{NotANumber, cell[:5], "-9999"}, fmt.Sprintf("%q is not a whole number", cell[:5]), "write tenths, or -9999 where it is missing")
	}
	at := month.AddDate(0, 0, day)
	if at.Month() != month.Month() {
		if raw != missingGHCN {
			return t.fault(column, what{Impossible, cell[:5], "-9999"}, fmt.Sprintf("a value for day %d of a month that has none", day+1), "write -9999 there")
		}
		return nil
	}
	date := farm.Day(at.Format(time.DateOnly))
	g.touch(date)
	return g.cell(t, date, element, column, strconv.Itoa(raw), strings.TrimSpace(cell[6:7]), UnitsTenths)
}
