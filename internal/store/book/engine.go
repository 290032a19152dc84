// Package book holds every query of the store once. What differs between the
// databases is behind Querier and Tx, which each database's own package brings:
// placeholders, many rows at once, errors, transactions, the queue of jobs.
//
// Queries number their values ?1, ?2, …: an engine may write the placeholder
// otherwise, but never count by itself.
package book

import (
	"context"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// Querier asks the database, outside of a transaction or within one. Errors are
// the driver's, but store.ErrExists for a key that is taken and
// store.ErrNotFound for a row that points at none of its farm.
type Querier interface {
	// Query reads every row into the same destinations and calls each after it.
	Query(ctx context.Context, query string, args, into []any, each func()) error
}

// Tx changes things in one transaction.
type Tx interface {
	Querier
	// Exec changes rows and gives how many.
	Exec(ctx context.Context, query string, args ...any) (int64, error)
	// Bulk adds many rows with few statements. No two of them share a key.
	Bulk(ctx context.Context, into Insert, rows [][]any) error
	// AddEach runs an insert that returns the ID once for every row.
	AddEach(ctx context.Context, insert string, rows [][]any) ([]int64, error)
	// Enqueue adds jobs to the queue that is attached to the store.
	Enqueue(ctx context.Context, jobs []store.Job) error
}

// Insert adds rows to a table.
type Insert struct {
	Table    string
	Columns  []row.Column
	Conflict string // what to do with a row that is there: the tail of the statement
}

// reader answers questions.
type reader struct{ q Querier }

// writer changes things in its transaction.
type writer struct {
	reader
	tx Tx
}

// NewReader is all that can be asked of a database.
func NewReader(q Querier) store.Reader {
	r := reader{q}
	return store.Reader{FarmReader: r, FieldReader: r, RecipientReader: r, RoomReader: r, ObservationReader: r,
		NoticeReader: r, MessageReader: r, CellReader: r, WeatherReader: r, VerdictReader: r, MemoReader: r, UpkeepReader: r}
}

// NewWriter is all that can be asked and changed in a transaction.
func NewWriter(tx Tx) store.Writer {
	w := writer{reader{tx}, tx}
	return store.Writer{Reader: NewReader(tx), FarmWriter: w, FieldWriter: w, RecipientWriter: w, RoomWriter: w, ObservationWriter: w,
		NoticeWriter: w, MessageWriter: w, CellWriter: w, WeatherWriter: w, VerdictWriter: w, MemoWriter: w, UpkeepWriter: w}
}
