package postgres

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// querier is the pool or the transaction of a writer.
type querier interface {
	Query(ctx context.Context, query string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, query string, args ...any) pgx.Row
}

// reader answers questions from either.
type reader struct{ q querier }

// writer changes things in its transaction.
type writer struct {
	reader
	tx      pgx.Tx
	enqueue Enqueue
}

// one reads a single row, ErrNotFound where there is none.
func one[T any](ctx context.Context, q querier, scan func(row.Scan) (T, error), query string, args ...any) (T, error) {
	v, err := scan(q.QueryRow(ctx, query, args...).Scan)
	if err != nil {
		return *new(T), sentinel(err)
	}
	return v, nil
}

// many reads all rows.
func many[T any](ctx context.Context, q querier, scan func(row.Scan) (T, error), query string, args ...any) ([]T, error) {
	rows, err := q.Query(ctx, query, args...)
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
	tag, err := w.tx.Exec(ctx, query, args...)
	return tag.RowsAffected(), sentinel(err)
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
func (w writer) insert(ctx context.Context, table, columns, conflict string, args []any) (id int64, err error) {
	query := fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s) %s RETURNING id", table, columns, marks(len(args)), conflict)
	err = w.tx.QueryRow(ctx, query, args...).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, store.ErrExists
	}
	return id, sentinel(err)
}

// update sets columns of a row of a farm, if its version is the one the caller saw.
func (w writer) update(ctx context.Context, table, columns string, farmID, id, version int64, args []any) error {
	n := len(args)
	query := fmt.Sprintf("UPDATE %s SET (%s, version) = (%s, version + 1) WHERE farm_id = $%d AND id = $%d AND version = $%d",
		table, columns, marks(n), n+1, n+2, n+3)
	changed, err := w.exec(ctx, query, append(args, farmID, id, version)...)
	if err != nil || changed == 1 {
		return err
	}
	_, err = one(ctx, w.tx, scanID, fmt.Sprintf("SELECT id FROM %s WHERE farm_id = $1 AND id = $2", table), farmID, id)
	if err != nil {
		return err
	}
	return store.ErrChanged
}

// marks are $1,$2,…,$n.
func marks(n int) string {
	var b strings.Builder
	for i := range n {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "$%d", i+1)
	}
	return b.String()
}

const rowsAtOnce = 5000 // bounds the memory of a statement, not its speed

// bulk writes many rows with few statements, whose parameters are one array per
// column for unnest. Nothing but COPY is faster, and COPY knows no conflict.
func (w writer) bulk(ctx context.Context, query string, rows [][]any) error {
	for len(rows) > 0 {
		n := min(len(rows), rowsAtOnce)
		if _, err := w.exec(ctx, query, columns(rows[:n])...); err != nil {
			return err
		}
		rows = rows[n:]
	}
	return nil
}

// columns turns rows into one array per column.
func columns(rows [][]any) []any {
	cs := make([]any, len(rows[0]))
	for c := range cs {
		column := make([]any, len(rows))
		for r := range rows {
			column[r] = rows[r][c]
		}
		cs[c] = column
	}
	return cs
}

// sentinel names what a caller tells apart: no row, a row that is there
// already, a row of another farm or of none that was pointed at.
func sentinel(err error) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return store.ErrNotFound
	}
	var refused *pgconn.PgError
	if !errors.As(err, &refused) {
		return err
	}
	const uniqueViolation, foreignKeyViolation = "23505", "23503"
	switch refused.Code {
	case uniqueViolation:
		return fmt.Errorf("%w: %w", store.ErrExists, err)
	case foreignKeyViolation:
		return fmt.Errorf("%w: what it belongs to: %w", store.ErrNotFound, err)
	}
	return err
}

// limit of a page; NULL is none.
func limit(n int) any {
	if n <= 0 {
		return nil
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
