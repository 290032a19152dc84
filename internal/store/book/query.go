package book

import (
	"context"
	"fmt"
	"math"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// one reads the row of a table that rest names, ErrNotFound where there is none.
func one[T any](ctx context.Context, q Querier, t row.Table[T], rest string, args ...any) (T, error) {
	vs, err := many(ctx, q, t, rest, args...)
	return only(vs, err)
}

// many reads all rows of a table that rest names.
func many[T any](ctx context.Context, q Querier, t row.Table[T], rest string, args ...any) (vs []T, err error) {
	var v T
	err = q.Query(ctx, t.Select(rest), args, t.Into(&v), func() { vs = append(vs, v) })
	return vs, err
}

// scalar reads the one value a query gives, ErrNotFound where it gives none.
func scalar[T any](ctx context.Context, q Querier, query string, args ...any) (T, error) {
	return only(scalars[T](ctx, q, query, args...))
}

// scalars reads the one value that each row has.
func scalars[T any](ctx context.Context, q Querier, query string, args ...any) (vs []T, err error) {
	var v T
	err = q.Query(ctx, query, args, []any{&v}, func() { vs = append(vs, v) })
	return vs, err
}

// only is the one there should be, else ErrNotFound.
func only[T any](vs []T, err error) (v T, _ error) {
	if err == nil && len(vs) == 0 {
		err = store.ErrNotFound
	}
	if err != nil {
		return v, err
	}
	return vs[0], nil
}

// must changes a row that is there: ErrNotFound where none is.
func (w writer) must(ctx context.Context, query string, args ...any) error {
	changed, err := w.tx.Exec(ctx, query, args...)
	if err == nil && changed == 0 {
		return store.ErrNotFound
	}
	return err
}

// ofFarm names a row of a farm.
const ofFarm = `WHERE farm_id = ?1 AND id = ?2`

// add adds a row and gives its ID.
func add[T any](ctx context.Context, w writer, t row.Table[T], v T) (int64, error) {
	return only(insert(ctx, w, t, v, ""))
}

// addNew adds a row and gives its ID; ErrExists where its key is there already,
// and the transaction stays usable.
func addNew[T any](ctx context.Context, w writer, t row.Table[T], v T) (int64, error) {
	ids, err := insert(ctx, w, t, v, t.Keep())
	if err == nil && len(ids) == 0 {
		err = store.ErrExists
	}
	if err != nil {
		return 0, err
	}
	return ids[0], nil
}

// insert adds a row and gives its ID, none where a conflict left things as they were.
func insert[T any](ctx context.Context, w writer, t row.Table[T], v T, conflict string) ([]int64, error) {
	vs, err := t.Added(v)
	if err != nil {
		return nil, err
	}
	return scalars[int64](ctx, w.tx, t.Insert(conflict+" RETURNING id"), vs...)
}

// addOnce adds a row that has no ID; ErrExists where its key is there already.
func addOnce[T any](ctx context.Context, w writer, t row.Table[T], v T) error {
	vs, err := t.Added(v)
	if err != nil {
		return err
	}
	added, err := w.tx.Exec(ctx, t.Insert(t.Keep()), vs...)
	if err == nil && added == 0 {
		return store.ErrExists
	}
	return err
}

// revise changes a row if its version is the one the caller saw, and raises it.
// key names the row by ?1, ?2, … of args.
func revise[T any](ctx context.Context, w writer, t row.Table[T], v T, version int64, key string, args ...any) error {
	vs, err := t.Changed(v)
	if err != nil {
		return err
	}
	n := len(args) + 1
	query := fmt.Sprintf("UPDATE %s SET %s, version = version + 1 WHERE %s AND version = ?%d", t.Name, t.Set(n), key, n)
	changed, err := w.tx.Exec(ctx, query, append(append(args[:n-1:n-1], version), vs...)...)
	if err != nil || changed == 1 {
		return err
	}
	if _, err := scalar[int64](ctx, w.tx, "SELECT id FROM "+t.Name+" WHERE "+key, args...); err != nil {
		return err
	}
	return store.ErrChanged
}

// reviseOfFarm is revise for a row of a farm.
func reviseOfFarm[T any](ctx context.Context, w writer, t row.Table[T], v T, farmID, id, version int64) error {
	return revise(ctx, w, t, v, version, `farm_id = ?1 AND id = ?2`, farmID, id)
}

// bulk adds many rows; which names one of them in a refusal.
func bulk[T any](ctx context.Context, w writer, t row.Table[T], conflict string, list []T, which func(T) string) error {
	rows, err := t.Rows(list, which)
	if err != nil {
		return err
	}
	return w.tx.Bulk(ctx, Insert{t.Name, t.Adds(), conflict}, rows)
}

// limit of a page.
func limit(n int) int64 {
	if n <= 0 {
		return math.MaxInt64
	}
	return int64(n)
}

// before is the cursor of a newest-first page.
func before(after int64) int64 {
	if after <= 0 {
		return math.MaxInt64
	}
	return after
}
