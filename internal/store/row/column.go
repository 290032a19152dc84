package row

import (
	"encoding/json"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Column ties a column to a member of a value: what a row is read into, and
// what is written of it.
type Column struct {
	Name  string
	Kind  Kind
	to    any // a destination of Scan
	value func() (any, error)
	when  when
}

// Kind is what a column holds.
type Kind int

// Kinds of columns.
const (
	Integer Kind = iota
	Real
	String
	Boolean
	Blob
)

// when a column is written.
type when int

const (
	always   when = iota // when its row is added, and with every change
	addedBy              // when its row is added
	byOthers             // by the database or a query of its own
)

// Repeated is a column that repeats what another holds, for people who look
// into the table: it is written but not read.
func (c Column) Repeated() Column {
	c.to = nil
	return c
}

// Fixed is a column that a change of its row leaves as it is.
func (c Column) Fixed() Column {
	c.when = addedBy
	return c
}

// Given is a column that is read but not written with its row.
func (c Column) Given() Column {
	c.when = byOthers
	return c
}

func column(name string, k Kind, to any, value func() (any, error)) Column {
	return Column{Name: name, Kind: k, to: to, value: value}
}

// Whole is a whole number.
func Whole[T ~int | ~int64](name string, to *T) Column {
	return column(name, Integer, to, func() (any, error) { return int64(*to), nil })
}

// Ref is the ID of another row; 0, none, is NULL.
func Ref(name string, to *int64) Column {
	return column(name, Integer, reference{to}, func() (any, error) { return Reference(*to), nil })
}

// Truth is yes or no.
func Truth(name string, to *bool) Column {
	return column(name, Boolean, to, func() (any, error) { return *to, nil })
}

// Number is a required quantity.
func Number[T ~float64](name string, to *T) Column {
	return column(name, Real, to, func() (any, error) { return number(*to) })
}

// MaybeNumber is a quantity that may be missing.
func MaybeNumber[T ~float64](name string, to *unit.Maybe[T]) Column {
	return column(name, Real, maybe[T]{to}, func() (any, error) { return known(*to, number[T]) })
}

// Text is required text.
func Text[T ~string](name string, to *T) Column {
	return column(name, String, to, func() (any, error) { return text(*to) })
}

// MaybeText is text that may be missing.
func MaybeText[T ~string](name string, to *unit.Maybe[T]) Column {
	return column(name, String, maybe[T]{to}, func() (any, error) { return known(*to, text[T]) })
}

// TextOrNull keeps an empty text as NULL, where a unique key must not count it.
func TextOrNull(name string, to *string) Column {
	return column(name, String, orEmpty{to}, func() (any, error) {
		if *to == "" {
			return nil, nil
		}
		return text(*to)
	})
}

// Foreign is the text of another machine, which must not keep its row from
// being written: what neither database would take is replaced.
func Foreign(name string, to *string) Column {
	return column(name, String, to, func() (any, error) { return cleaned(*to), nil })
}

// At is a required instant.
func At(name string, to *time.Time) Column {
	return column(name, Integer, instant{to}, func() (any, error) { return Instant(*to), nil })
}

// AtOrNull keeps the zero time as NULL.
func AtOrNull(name string, to *time.Time) Column {
	return column(name, Integer, instant{to}, func() (any, error) {
		if to.IsZero() {
			return nil, nil
		}
		return Instant(*to), nil
	})
}

// MaybeAt is an instant that may be missing.
func MaybeAt(name string, to *unit.Maybe[time.Time]) Column {
	return column(name, Integer, maybeAt{to}, func() (any, error) {
		return known(*to, func(t time.Time) (any, error) { return Instant(t), nil })
	})
}

// Seconds is a duration in whole seconds.
func Seconds(name string, to *time.Duration) Column {
	return column(name, Integer, duration{to}, func() (any, error) { return int64(*to / time.Second), nil })
}

// Nested is a list or map as JSON text; an empty one comes back as nil, so that
// none and empty are the same.
func Nested[T any](name string, to *T) Column {
	return column(name, String, nested[T]{to}, func() (any, error) { return nestedText(*to) })
}

// Document is JSON of a caller, kept byte for byte; nil is NULL.
func Document(name string, to *json.RawMessage) Column {
	return column(name, String, raw{to}, func() (any, error) {
		if *to == nil {
			return nil, nil
		}
		return document(*to)
	})
}

// JSON is a value of ours as JSON text; NULL is read as its zero.
func JSON[T any](name string, to *T) Column {
	return column(name, String, decoded[T]{to}, func() (any, error) { return nestedText(*to) })
}

// Bytes are never NULL; nil comes back empty.
func Bytes(name string, to *[]byte) Column {
	return column(name, Blob, to, func() (any, error) {
		if *to == nil {
			return []byte{}, nil
		}
		return *to, nil
	})
}

// Packed is a forecast, compressed.
func Packed(name string, to *weather.Forecast) Column {
	return column(name, Blob, packed{to}, func() (any, error) { return pack(*to) })
}

// known keeps a missing value as NULL.
func known[T any](m unit.Maybe[T], keep func(T) (any, error)) (any, error) {
	if v, ok := m.Get(); ok {
		return keep(v)
	}
	return nil, nil
}
