package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"winterstand/internal/store"
	"winterstand/internal/store/book"
	"winterstand/internal/store/row"
)

// numbered writes the placeholders ?1, ?2 of the book as $1, $2. No query holds
// a question mark that is not one.
func numbered(query string) string { return strings.ReplaceAll(query, "?", "$") }

// querier asks through the pool or the transaction of a writer.
type querier struct {
	q interface {
		Query(ctx context.Context, query string, args ...any) (pgx.Rows, error)
	}
}

func (q querier) Query(ctx context.Context, query string, args, into []any, each func()) error {
	rows, err := q.q.Query(ctx, numbered(query), args...)
	if err != nil {
		return sentinel(err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		each()
	}
	return sentinel(rows.Err())
}

// transaction changes things.
type transaction struct {
	querier
	tx      pgx.Tx
	enqueue Enqueue
}

func (t transaction) Exec(ctx context.Context, query string, args ...any) (int64, error) {
	tag, err := t.tx.Exec(ctx, numbered(query), args...)
	return tag.RowsAffected(), sentinel(err)
}

const rowsAtOnce = 5000 // bounds the memory of a statement, not its speed

// Bulk has one array per column for unnest. Nothing but COPY is faster, and
// COPY knows no conflict.
func (t transaction) Bulk(ctx context.Context, into book.Insert, rows [][]any) error {
	query := fmt.Sprintf("INSERT INTO %s (%s) SELECT * FROM unnest(%s) %s",
		into.Table, strings.Join(row.Names(into.Columns), ", "), arrays(into.Columns), into.Conflict)
	for len(rows) > 0 {
		n := min(len(rows), rowsAtOnce)
		if _, err := t.Exec(ctx, query, turned(rows[:n])...); err != nil {
			return err
		}
		rows = rows[n:]
	}
	return nil
}

var types = map[row.Kind]string{row.Integer: "bigint", row.Real: "float8", row.String: "text", row.Boolean: "boolean", row.Blob: "bytea"}

// arrays are the placeholders of columns with their types: ?1::bigint[], …
func arrays(cs []row.Column) string {
	marks := make([]string, len(cs))
	for i, c := range cs {
		marks[i] = fmt.Sprintf("?%d::%s[]", i+1, types[c.Kind])
	}
	return strings.Join(marks, ", ")
}

// turned gives one array per column.
func turned(rows [][]any) []any {
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

// AddEach sends all in one round trip.
func (t transaction) AddEach(ctx context.Context, insert string, rows [][]any) ([]int64, error) {
	ids := make([]int64, len(rows))
	var batch pgx.Batch
	for i, r := range rows {
		batch.Queue(numbered(insert), r...).QueryRow(func(r pgx.Row) error { return r.Scan(&ids[i]) })
	}
	return ids, sentinel(t.tx.SendBatch(ctx, &batch).Close())
}

// Enqueue needs a queue: Store.Attach.
func (t transaction) Enqueue(ctx context.Context, jobs []store.Job) error {
	if t.enqueue == nil {
		return errors.New("no queue is attached to the store")
	}
	return t.enqueue(ctx, t.tx, jobs)
}

// sentinel names what a caller tells apart: a row that is there already, a row
// of another farm or of none that was pointed at.
func sentinel(err error) error {
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
