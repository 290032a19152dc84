package commands

import (
	"encoding/json"

	"winterstand/internal/unit"
)

// Optional is one member of an input: left out, cleared (null), or given a value.
// A change touches only the members that were given.
type Optional[T any] struct {
	v     T
	given bool
	clear bool
}

// Set is a member with a value.
func Set[T any](v T) Optional[T] { return Optional[T]{v: v, given: true} }

// Clear is a member that is to be emptied.
func Clear[T any]() Optional[T] { return Optional[T]{given: true, clear: true} }

// Get gives the value and whether there is one.
func (g Optional[T]) Get() (T, bool) { return g.v, g.given && !g.clear }

// Touched tells whether the member was named at all, with a value or with null.
func (g Optional[T]) Touched() bool { return g.given }

// Cleared tells whether the member was named with null.
func (g Optional[T]) Cleared() bool { return g.given && g.clear }

// Maybe is the value, missing when it was left out or cleared.
func (g Optional[T]) Maybe() unit.Maybe[T] {
	if v, ok := g.Get(); ok {
		return unit.Some(v)
	}
	return unit.None[T]()
}

// IsZero lets `json:",omitzero"` leave a member out that was not given.
func (g Optional[T]) IsZero() bool { return !g.given }

// MarshalJSON writes null for a cleared member.
func (g Optional[T]) MarshalJSON() ([]byte, error) {
	if !g.given || g.clear {
		return []byte("null"), nil
	}
	return json.Marshal(g.v)
}

// UnmarshalJSON is called only for members that are there; null clears.
func (g *Optional[T]) UnmarshalJSON(b []byte) error {
	*g = Optional[T]{given: true, clear: string(b) == "null"}
	if g.clear {
		return nil
	}
	return json.Unmarshal(b, &g.v)
}
