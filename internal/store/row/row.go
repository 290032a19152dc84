// Package row turns the nouns of the book into the plain values of a table row
// and back. Both stores have their own SQL; what a row means is the same in
// both, so it stands here once: instants are Unix seconds, a missing value is
// NULL, nested lists are JSON text, forecasts are compressed.
//
// A Scan… function reads the columns in the order of its fields; a …Values
// function gives what a caller may set, in the order named beside it, and
// refuses by name what must not be stored: NaN and infinity (they compare false
// with every limit) and text that only one of the databases would take.
package row

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"winterstand/internal/unit"
)

// Scan reads one row into its destinations, as (*sql.Rows).Scan does.
type Scan func(dest ...any) error

// Wrap says what was attempted, where there was an error: `defer Wrap(&err, …)`.
func Wrap(err *error, format string, args ...any) {
	if *err != nil {
		*err = fmt.Errorf(format+": %w", append(args, *err)...)
	}
}

// values are the row, or every refusal among them. The helpers below give
// either a value of the driver or an error.
func values(vs ...any) ([]any, error) {
	var refused []error
	for _, v := range vs {
		if err, ok := v.(error); ok {
			refused = append(refused, err)
		}
	}
	if err := errors.Join(refused...); err != nil {
		return nil, err
	}
	return vs, nil
}

// number is a required quantity.
func number[T ~float64](name string, v T) any {
	if f := float64(v); math.IsNaN(f) || math.IsInf(f, 0) {
		return fmt.Errorf("%s: must be a finite number, not %v", name, f)
	}
	return float64(v)
}

// maybeNumber is a quantity that may be missing.
func maybeNumber[T ~float64](name string, m unit.Maybe[T]) any {
	v, ok := m.Get()
	if !ok {
		return nil
	}
	return number(name, v)
}

// text is what both databases can hold: UTF-8 without the NUL that PostgreSQL refuses.
func text[T ~string](name string, v T) any {
	s := string(v)
	if !utf8.ValidString(s) || strings.ContainsRune(s, 0) {
		return fmt.Errorf("%s: must be UTF-8 text without NUL, not %q", name, s)
	}
	return s
}

// cleaned is the text of another machine, which must not keep its row from
// being written: what neither database would take is replaced.
func cleaned(s string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}

func maybeText[T ~string](name string, m unit.Maybe[T]) any {
	v, ok := m.Get()
	if !ok {
		return nil
	}
	return text(name, v)
}

// textOrNull keeps an empty text as NULL, where a unique key must not count it.
func textOrNull(name, s string) any {
	if s == "" {
		return nil
	}
	return text(name, s)
}

// Instant is a time as it is kept.
func Instant(t time.Time) int64 { return t.Unix() }

func maybeInstant(m unit.Maybe[time.Time]) any {
	t, ok := m.Get()
	if !ok {
		return nil
	}
	return t.Unix()
}

// instantOrNull keeps the zero time as NULL.
func instantOrNull(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.Unix()
}

// Reference is an ID of another row; 0, none, is NULL.
func Reference(id int64) any {
	if id == 0 {
		return nil
	}
	return id
}

// seconds are a duration in whole seconds.
func seconds(d time.Duration) int64 { return int64(d / time.Second) }

// list is a nested list or map as JSON text; an empty one comes back as nil, so
// that none and empty are the same.
func list(name string, v any) any {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return text(name, string(b))
}

// document is JSON of a caller, kept byte for byte; nil is NULL.
func document(name string, m json.RawMessage) any {
	if m == nil {
		return nil
	}
	if !json.Valid(m) {
		return fmt.Errorf("%s: must be JSON, not %.40q", name, m)
	}
	return text(name, string(m))
}

// encoded is a value of ours as JSON text.
func encoded(name string, v any) any {
	body, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return document(name, body)
}
