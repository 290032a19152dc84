package row

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"winterstand/internal/unit"
)

// maybe reads NULL as missing.
type maybe[T any] struct{ to *unit.Maybe[T] }

func (m maybe[T]) Scan(src any) error {
	var n sql.Null[T]
	if err := n.Scan(src); err != nil {
		return err
	}
	*m.to = unit.None[T]()
	if n.Valid {
		*m.to = unit.Some(n.V)
	}
	return nil
}

// instant reads Unix seconds in UTC, and NULL as the zero time.
type instant struct{ to *time.Time }

func (i instant) Scan(src any) error {
	var m unit.Maybe[time.Time]
	if err := (maybeAt{&m}).Scan(src); err != nil {
		return err
	}
	*i.to = m.Else(time.Time{})
	return nil
}

// maybeAt reads Unix seconds in UTC, and NULL as missing.
type maybeAt struct{ to *unit.Maybe[time.Time] }

func (m maybeAt) Scan(src any) error {
	switch s := src.(type) {
	case nil:
		*m.to = unit.None[time.Time]()
	case int64:
		*m.to = unit.Some(time.Unix(s, 0).UTC())
	default:
		return fmt.Errorf("instant: must be Unix seconds, not %T", src)
	}
	return nil
}

// reference reads NULL as 0.
type reference struct{ to *int64 }

func (r reference) Scan(src any) error {
	var n sql.NullInt64
	err := n.Scan(src)
	*r.to = n.Int64
	return err
}

// orEmpty reads NULL as the empty text.
type orEmpty struct{ to *string }

func (o orEmpty) Scan(src any) error {
	var n sql.NullString
	err := n.Scan(src)
	*o.to = n.String
	return err
}

// duration reads whole seconds.
type duration struct{ to *time.Duration }

func (d duration) Scan(src any) error {
	s, ok := src.(int64)
	if !ok {
		return fmt.Errorf("duration: must be whole seconds, not %T", src)
	}
	*d.to = time.Duration(s) * time.Second
	return nil
}

// nested reads a list or map kept as JSON text; an empty one is nil.
type nested[T any] struct{ to *T }

func (n nested[T]) Scan(src any) error {
	var s sql.NullString
	if err := s.Scan(src); err != nil {
		return err
	}
	var v T
	switch s.String {
	case "null", "[]", "{}": // most rows: nothing to decode
	default:
		if err := json.Unmarshal([]byte(s.String), &v); err != nil {
			return fmt.Errorf("nested list: %w", err)
		}
	}
	*n.to = v
	return nil
}

// raw reads JSON byte for byte, and NULL as nil.
type raw struct{ to *json.RawMessage }

func (r raw) Scan(src any) error {
	var s sql.NullString
	if err := s.Scan(src); err != nil {
		return err
	}
	*r.to = nil
	if s.Valid {
		*r.to = json.RawMessage(s.String)
	}
	return nil
}

// decoded reads a value of ours from JSON text, and NULL as its zero.
type decoded[T any] struct{ to *T }

func (d decoded[T]) Scan(src any) error {
	var s sql.NullString
	err := s.Scan(src)
	var v T // nothing of the row before stays
	if err == nil && s.Valid {
		err = json.Unmarshal([]byte(s.String), &v)
	}
	*d.to = v
	return err
}
