package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/mattn/go-sqlite3"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// querier is the reading pool or the transaction of a writer.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// reader answers questions from either.
type reader struct{ q querier }

// writer changes things in its transaction.
type writer struct {
	reader
	tx      *sql.Tx
	enqueue Enqueue
}

// one reads a single row, ErrNotFound where there is none.
func one[T any](ctx context.Context, q querier, scan func(row.Scan) (T, error), query string, args ...any) (T, error) {
	v, err := scan(q.QueryRowContext(ctx, query, args...).Scan)
	if err != nil {
		return *new(T), sentinel(err)
	}
	return v, nil
}

// many reads all rows.
func many[T any](ctx context.Context, q querier, scan func(row.Scan) (T, error), query string, args ...any) (_ []T, err error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var vs []T
	for rows.Next() {
		v, err := scan(rows.Scan)
		if err != nil {
			return nil, err
		}
		vs = append(vs, v)
	}
	return vs, rows.Err()
}

// scanID reads a single number.
func scanID(scan row.Scan) (id int64, err error) {
	err = scan(&id)
	return id, err
}

// exec changes rows and gives how many.
func (w writer) exec(ctx context.Context, query string, args ...any) (int64, error) {
	res, err := w.tx.ExecContext(ctx, query, args...)
	if err != nil {
		return 0, sentinel(err)
	}
	return res.RowsAffected()
}

// must changes a row that is there: ErrNotFound where none is.
func (w writer) must(ctx context.Context, query string, args ...any) error {
	changed, err := w.exec(ctx, query, args...)
	if err == nil && changed == 0 {
		return store.ErrNotFound
	}
	return err
}

// addOnce runs an insert that does nothing on conflict: then ErrExists.
func (w writer) addOnce(ctx context.Context, query string, args ...any) error {
	added, err := w.exec(ctx, query, args...)
	if err == nil && added == 0 {
		return store.ErrExists
	}
	return err
}

// insert adds a row and gives its ID. Where the statement says `ON CONFLICT …
// DO NOTHING` and there is a conflict, ErrExists.
func (w writer) insert(ctx context.Context, table, columns, conflict string, args []any) (int64, error) {
	query := fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s) %s RETURNING id", table, columns, marks(len(args)), conflict)
	var id int64
	err := w.tx.QueryRowContext(ctx, query, args...).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, store.ErrExists
	}
	return id, sentinel(err)
}

// update sets columns of a row of a farm, if its version is the one the caller saw.
func (w writer) update(ctx context.Context, table, columns string, farmID, id, version int64, args []any) error {
	n := len(args)
	query := fmt.Sprintf("UPDATE %s SET (%s, version) = (%s, version + 1) WHERE farm_id = ?%d AND id = ?%d AND version = ?%d",
		table, columns, marks(n), n+1, n+2, n+3)
	changed, err := w.exec(ctx, query, append(args, farmID, id, version)...)
	if err != nil || changed == 1 {
		return err
	}
	_, err = one(ctx, w.tx, scanID, fmt.Sprintf("SELECT id FROM %s WHERE farm_id = ?1 AND id = ?2", table), farmID, id)
	if err != nil {
		return err
	}
	return store.ErrChanged
}

// marks are ?1,?2,…,?n: numbered, since the driver swaps out-of-order ones silently.
func marks(n int) string {
	var b strings.Builder
	for i := range n {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "?%d", i+1)
	}
	return b.String()
}

// maxVariables is SQLITE_LIMIT_VARIABLE_NUMBER of the driver's build (SQLite's
// default since 3.32); rowsAtOnce bounds the text of a statement.
const (
	maxVariables = 32766
	rowsAtOnce   = 500
)

// bulk writes many rows with few statements: head VALUES (…),(…) tail.
func (w writer) bulk(ctx context.Context, head, tail string, rows [][]any) error {
	for len(rows) > 0 {
		n := min(len(rows), rowsAtOnce, maxVariables/len(rows[0]))
		if err := w.chunk(ctx, head, tail, rows[:n]); err != nil {
			return err
		}
		rows = rows[n:]
	}
	return nil
}

func (w writer) chunk(ctx context.Context, head, tail string, rows [][]any) error {
	one := "(" + strings.TrimSuffix(strings.Repeat("?,", len(rows[0])), ",") + ")"
	args := make([]any, 0, len(rows)*len(rows[0]))
	for _, r := range rows {
		args = append(args, r...)
	}
	all := strings.TrimSuffix(strings.Repeat(one+",", len(rows)), ",")
	_, err := w.exec(ctx, head+" VALUES "+all+" "+tail, args...)
	return err
}

// sentinel names what a caller tells apart: no row, a row that is there
// already, a row of another farm or of none that was pointed at.
func sentinel(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return store.ErrNotFound
	}
	var refused sqlite3.Error
	if !errors.As(err, &refused) {
		return err
	}
	switch refused.ExtendedCode {
	case sqlite3.ErrConstraintUnique, sqlite3.ErrConstraintPrimaryKey:
		return fmt.Errorf("%w: %w", store.ErrExists, err)
	case sqlite3.ErrConstraintForeignKey:
		return fmt.Errorf("%w: what it belongs to: %w", store.ErrNotFound, err)
	}
	return err
}

// limit of a page; SQLite takes a negative one for none.
func limit(n int) int {
	if n <= 0 {
		return -1
	}
	return n
}

// before is the cursor of a newest-first page.
func before(after int64) int64 {
	if after <= 0 {
		return math.MaxInt64
	}
	return after
}
