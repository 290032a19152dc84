package row

import (
	"errors"
	"fmt"
	"strings"
)

// Table is what a table holds of a T, and the parts of SQL that follow from it.
// Values stand at the placeholders ?1, ?2, …
type Table[T any] struct {
	Name    string
	key     string // columns that no two rows share
	columns func(*T) []Column
	reads   []string
	adds    []Column
	changes []string
}

// Of is the table of a name whose rows differ in their key, as in "cell_id,
// at"; columns ties them to a T, in the order they are read and written.
func Of[T any](name, key string, columns func(*T) []Column) Table[T] {
	t := Table[T]{Name: name, key: key, columns: columns}
	for _, c := range columns(new(T)) {
		if c.to != nil {
			t.reads = append(t.reads, c.Name)
		}
		if c.when != byOthers {
			t.adds = append(t.adds, c)
		}
		if c.when == always {
			t.changes = append(t.changes, c.Name)
		}
	}
	return t
}

// Select reads rows; rest follows the name of the table.
func (t Table[T]) Select(rest string) string {
	return "SELECT " + strings.Join(t.reads, ", ") + " FROM " + t.Name + " " + rest
}

// Insert adds a row of what Added gives; rest follows its values.
func (t Table[T]) Insert(rest string) string {
	marks := make([]string, len(t.adds))
	for i := range marks {
		marks[i] = fmt.Sprintf("?%d", i+1)
	}
	return "INSERT INTO " + t.Name + " (" + strings.Join(Names(t.adds), ", ") + ") VALUES (" + strings.Join(marks, ", ") + ") " + rest
}

// Set assigns what Changed gives, at the placeholders after the first n.
func (t Table[T]) Set(n int) string {
	set := make([]string, len(t.changes))
	for i, c := range t.changes {
		set[i] = fmt.Sprintf("%s = ?%d", c, n+i+1)
	}
	return strings.Join(set, ", ")
}

// Keep leaves a row that has the same key as it is.
func (t Table[T]) Keep() string { return "ON CONFLICT (" + t.key + ") DO NOTHING" }

// Replace changes a row that has the same key.
func (t Table[T]) Replace() string {
	set := make([]string, len(t.changes))
	for i, c := range t.changes {
		set[i] = c + " = excluded." + c
	}
	return "ON CONFLICT (" + t.key + ") DO UPDATE SET " + strings.Join(set, ", ")
}

// Adds are the columns that are written when a row is added.
func (t Table[T]) Adds() []Column { return t.adds }

// Changes are the names of the columns that a change of a row writes.
func (t Table[T]) Changes() []string { return t.changes }

// Names of columns.
func Names(cs []Column) []string {
	names := make([]string, len(cs))
	for i, c := range cs {
		names[i] = c.Name
	}
	return names
}

// Into are the destinations of Scan for the row of a v.
func (t Table[T]) Into(v *T) []any {
	dest := make([]any, 0, len(t.reads))
	for _, c := range t.columns(v) {
		if c.to != nil {
			dest = append(dest, c.to)
		}
	}
	return dest
}

// Added are the values of a new row, or every refusal among them.
func (t Table[T]) Added(v T) ([]any, error) { return values(t.columns(&v), addedBy) }

// Changed are the values of a row that changes, or every refusal among them.
func (t Table[T]) Changed(v T) ([]any, error) { return values(t.columns(&v), always) }

// Rows are the values of many new rows; a refusal says which of them.
func (t Table[T]) Rows(list []T, which func(T) string) ([][]any, error) {
	var v T
	cs := t.columns(&v)
	rows := make([][]any, len(list))
	for i := range list {
		v = list[i]
		vs, err := values(cs, addedBy)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", which(v), err)
		}
		rows[i] = vs
	}
	return rows, nil
}

// values of the columns that are written then or more often.
func values(cs []Column, then when) ([]any, error) {
	vs := make([]any, 0, len(cs))
	var refused []error
	for _, c := range cs {
		if c.when > then {
			continue
		}
		v, err := c.value()
		if err != nil {
			refused = append(refused, fmt.Errorf("%s: %w", c.Name, err))
		}
		vs = append(vs, v)
	}
	return vs, errors.Join(refused...)
}
