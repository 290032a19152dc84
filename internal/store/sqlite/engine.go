package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"github.com/mattn/go-sqlite3"

	"winterstand/internal/store"
	"winterstand/internal/store/book"
	"winterstand/internal/store/row"
)

// querier asks through the reading connections or the transaction of a writer.
type querier struct {
	q interface {
		QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	}
}

func (q querier) Query(ctx context.Context, query string, args, into []any, each func()) error {
	rows, err := q.q.QueryContext(ctx, query, args...)
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
	tx      *sql.Tx
	enqueue Enqueue
}

func (t transaction) Exec(ctx context.Context, query string, args ...any) (int64, error) {
	res, err := t.tx.ExecContext(ctx, query, args...)
	if err != nil {
		return 0, sentinel(err)
	}
	return res.RowsAffected()
}

// maxVariables is SQLITE_LIMIT_VARIABLE_NUMBER of the driver's build (SQLite's
// default since 3.32); rowsAtOnce bounds the text of a statement.
const (
	maxVariables = 32766
	rowsAtOnce   = 500
)

// Bulk has all values in one statement: VALUES (…), (…).
func (t transaction) Bulk(ctx context.Context, into book.Insert, rows [][]any) error {
	head := fmt.Sprintf("INSERT INTO %s (%s) VALUES ", into.Table, strings.Join(row.Names(into.Columns), ", "))
	one := "(" + repeated("?", len(into.Columns)) + ")"
	for len(rows) > 0 {
		n := min(len(rows), rowsAtOnce, maxVariables/len(into.Columns))
		args := make([]any, 0, n*len(into.Columns))
		for _, r := range rows[:n] {
			args = append(args, r...)
		}
		if _, err := t.Exec(ctx, head+repeated(one, n)+" "+into.Conflict, args...); err != nil {
			return err
		}
		rows = rows[n:]
	}
	return nil
}

func repeated(s string, n int) string { return strings.TrimSuffix(strings.Repeat(s+",", n), ",") }

func (t transaction) AddEach(ctx context.Context, insert string, rows [][]any) ([]int64, error) {
	ids := make([]int64, 0, len(rows))
	for _, r := range rows {
		var id int64
		if err := t.Query(ctx, insert, r, []any{&id}, func() { ids = append(ids, id) }); err != nil {
			return nil, err
		}
	}
	return ids, nil
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
