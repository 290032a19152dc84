package unit

import "encoding/json"

// Maybe is a value that may be missing. Missing is never zero: the only way to
// the value is Get, which also says whether there is one.
type Maybe[T any] struct {
	v  T
	ok bool
}

// Some is a present value.
func Some[T any](v T) Maybe[T] { return Maybe[T]{v: v, ok: true} }

// None is a missing value; the zero Maybe is the same.
func None[T any]() Maybe[T] { return Maybe[T]{} }

// Get gives the value and whether it is there.
func (m Maybe[T]) Get() (T, bool) { return m.v, m.ok }

// Known tells whether there is a value.
func (m Maybe[T]) Known() bool { return m.ok }

// Else gives the value or, where it is missing, a default the caller names.
func (m Maybe[T]) Else(def T) T {
	if m.ok {
		return m.v
	}
	return def
}

// IsZero lets `json:",omitzero"` leave a missing value out.
func (m Maybe[T]) IsZero() bool { return !m.ok }

// MarshalJSON writes null for a missing value.
func (m Maybe[T]) MarshalJSON() ([]byte, error) {
	if !m.ok {
		return []byte("null"), nil
	}
	return json.Marshal(m.v)
}

// UnmarshalJSON reads null as missing.
func (m *Maybe[T]) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*m = Maybe[T]{}
		return nil
	}
	if err := json.Unmarshal(b, &m.v); err != nil {
		return err
	}
	m.ok = true
	return nil
}

// Pointer gives nil for a missing value, for the edges that speak in pointers.
func (m Maybe[T]) Pointer() *T {
	if !m.ok {
		return nil
	}
	v := m.v
	return &v
}
