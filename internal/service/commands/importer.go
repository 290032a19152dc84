package commands

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"sort"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// Kinds of import.
const (
	ImportBeds     = "beds"
	ImportReadings = "readings"
	ImportLots     = "lots"
)

// MaxImportLines bounds one file. Own default.
const MaxImportLines = 20000

// Imported tells what an import entered.
type Imported struct {
	Kind  string  `json:"kind"`
	Count int     `json:"count"`
	IDs   []int64 `json:"ids"`
}

// Columns of each kind of file. A field may be named by field_id or field, a
// room by room_id or room.
var Columns = map[string][]string{
	ImportBeds: {"field_id", "field", "name", "crop", "variety", "purpose", "sown_on", "standing_kg", "price_per_kg",
		"lift_kg_per_hour", "cost_loss", "cover", "cover_on", "cover_off", "mulch_cm", "tolerance_shift_k"},
	ImportReadings: {"field_id", "field", "at", "quantity", "depth_cm", "value"},
	ImportLots: {"room_id", "room", "crop", "variety", "kg", "harvested_at", "container", "cured_at",
		"from_bed_id"},
}

// Import enters beds, readings or lots from a CSV file with a header line, all
// of it or nothing. An empty kind is told from the header. Errors: *Invalid,
// which names every wrong line.
func (d Service) Import(ctx context.Context, farmID int64, kind string, file []byte) (out Imported, err error) {
	t, err := readTable(file)
	if err != nil {
		return out, err
	}
	if kind == "" {
		kind = kindOf(t.header)
	}
	if err := t.fits(kind); err != nil {
		return out, err
	}
	err = d.write(ctx, func(w store.Writer) error {
		in := d.Within(w)
		out = Imported{Kind: kind, IDs: []int64{}}
		var err error
		switch kind {
		case ImportBeds:
			out.IDs, err = in.importBeds(ctx, farmID, t)
		case ImportReadings:
			out.IDs, err = in.importReadings(ctx, farmID, t)
		case ImportLots:
			out.IDs, err = in.importLots(ctx, farmID, t)
		}
		out.Count = len(out.IDs)
		return err
	})
	return out, err
}

// kindOf tells a file by a column that only one kind has.
func kindOf(header []string) string {
	switch {
	case slices.Contains(header, "quantity"):
		return ImportReadings
	case slices.Contains(header, "harvested_at"):
		return ImportLots
	case slices.Contains(header, "name"):
		return ImportBeds
	}
	return ""
}

// table is a CSV file with its header read.
type table struct {
	header []string
	rows   []row
}

// row is one line of the file by column; empty cells are left out.
type row struct {
	line  int
	cells map[string]string
}

func readTable(file []byte) (table, error) {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(file, []byte("\xef\xbb\xbf"))))
	r.ReuseRecord = true
	r.FieldsPerRecord = -1
	header, err := r.Read()
	if err != nil {
		return table{}, notCSV(err)
	}
	t := table{header: slices.Clone(header)}
	for i := range t.header {
		t.header[i] = strings.ToLower(strings.TrimSpace(t.header[i]))
	}
	return t, t.read(r)
}

// notCSV says where the file stops being a table.
func notCSV(err error) error {
	if errors.Is(err, io.EOF) {
		return wrong("file", "file_empty")
	}
	var broken *csv.ParseError
	if !errors.As(err, &broken) {
		return fmt.Errorf("read CSV: %w", err)
	}
	key := "csv_quote" // a quoted cell that does not end, or goes on after its end
	if errors.Is(broken.Err, csv.ErrBareQuote) {
		key = "csv_bare_quote"
	}
	return &Invalid{[]Problem{{Line: broken.Line, Field: "line", Reason: reason(key, "n", broken.Column)}}}
}

func (t *table) read(r *csv.Reader) error {
	var c check
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return notCSV(err)
		}
		line, _ := r.FieldPos(0)
		if len(record) != len(t.header) {
			c.testLine(line, "line", reason("columns", "n", len(record), "header", len(t.header)))
			continue
		}
		t.rows = append(t.rows, t.row(line, record))
	}
	switch {
	case len(t.rows) > MaxImportLines:
		c.bad("file", "too_many", "n", len(t.rows), "most", MaxImportLines)
	case len(t.rows) == 0 && len(c.problems) == 0:
		c.bad("file", "no_lines")
	}
	return c.err()
}

func (t *table) row(line int, record []string) row {
	cells := map[string]string{}
	for i, name := range t.header {
		if v := strings.TrimSpace(record[i]); v != "" {
			cells[name] = strings.Clone(v)
		}
	}
	return row{line, cells}
}

// fits tells whether the columns are those of a kind of file.
func (t table) fits(kind string) error {
	columns, ok := Columns[kind]
	if !ok {
		return wrong("kind", "import_kind", "list", []string{ImportBeds, ImportReadings, ImportLots})
	}
	var c check
	seen := map[string]bool{}
	for _, name := range t.header {
		switch {
		case seen[name]:
			c.testLine(1, name, reason("column_twice"))
		case !slices.Contains(columns, name):
			c.testLine(1, name, reason("column_unknown", "kind", kind, "list", columns))
		}
		seen[name] = true
	}
	return c.err()
}

// importBeds enters a bed a line.
func (d Service) importBeds(ctx context.Context, farmID int64, t table) ([]int64, error) {
	names, err := d.names(ctx, farmID)
	if err != nil {
		return nil, err
	}
	beds, places, find := make([]farm.Bed, len(t.rows)), map[int64]place{}, d.placeFinder(ctx, d.tx.Reader, farmID)
	err = t.each(func(i int, c *check, r row) error {
		b, p, err := d.newBed(c, farmID, names.bed(c, r), find)
		beds[i], places[b.FieldID] = b, p
		return err
	})
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(beds))
	for i, b := range beds {
		if ids[i], err = d.tx.AddBed(ctx, b); err != nil {
			return nil, err
		}
	}
	return ids, d.judgePlaces(ctx, places)
}

func (d Service) judgePlaces(ctx context.Context, places map[int64]place) error {
	ids := make([]int64, 0, len(places))
	for id := range places {
		ids = append(ids, id)
	}
	sort.Slice(ids, func(i, j int) bool { return ids[i] < ids[j] })
	for _, id := range ids {
		if err := judgeField(ctx, *d.tx, places[id].Field); err != nil {
			return err
		}
	}
	return nil
}

func (d Service) importReadings(ctx context.Context, farmID int64, t table) ([]int64, error) {
	names, err := d.names(ctx, farmID)
	if err != nil {
		return nil, err
	}
	book, readings := d.readingBook(d.tx.Reader, farmID), make([]farm.Reading, len(t.rows))
	err = t.each(func(i int, c *check, r row) (err error) {
		readings[i], err = book.reading(ctx, c, names.reading(c, r))
		return err
	})
	if err != nil {
		return nil, err
	}
	if err := book.enter(ctx, *d.tx, readings); err != nil {
		return nil, err
	}
	ids := make([]int64, len(readings))
	for i, r := range readings {
		ids[i] = r.ID
	}
	return ids, nil
}

func (d Service) importLots(ctx context.Context, farmID int64, t table) ([]int64, error) {
	names, err := d.names(ctx, farmID)
	if err != nil {
		return nil, err
	}
	lots := make([]farm.Lot, len(t.rows))
	err = t.each(func(i int, c *check, r row) (err error) {
		lots[i], err = d.newLot(ctx, d.tx.Reader, c, farmID, names.lot(c, r))
		return err
	})
	if err != nil {
		return nil, err
	}
	ids, rooms := make([]int64, len(lots)), make([]int64, len(lots))
	for i, l := range lots {
		rooms[i] = l.RoomID
		if ids[i], err = d.tx.AddLot(ctx, l); err != nil {
			return nil, err
		}
	}
	return ids, d.filled(ctx, *d.tx, farmID, rooms...)
}

// column names the member of a list by the column it came from.
var column = strings.NewReplacer("covers[0].kind", "cover", "covers[0].on", "cover_on", "covers[0].off", "cover_off")

// each looks at every line before anything is written, so that all that is
// wrong is told at once.
func (t table) each(fn func(i int, c *check, r row) error) error {
	var all check
	for i, r := range t.rows {
		var c check
		if err := fn(i, &c, r); err != nil {
			return err
		}
		for _, p := range c.problems {
			p.Line, p.Field = r.line, column.Replace(p.Field)
			all.problems = append(all.problems, p)
		}
	}
	return all.err()
}
