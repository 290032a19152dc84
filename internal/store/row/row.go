// Package row says how the values of the book stand in the columns of a table,
// the same in every database: instants are Unix seconds, a missing value is
// NULL, nested lists are JSON text, forecasts are compressed.
//
// A Column ties a column to a member of a noun, both ways; a Table is the list
// of them. What must not be stored is refused by the name of its column: NaN
// and infinity (they compare false with every limit) and text that only one of
// the databases would take.
package row

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"winterstand/internal/weather"
)

// Wrap says what was attempted, where there was an error: `defer Wrap(&err, …)`.
func Wrap(err *error, format string, args ...any) {
	if *err != nil {
		*err = fmt.Errorf(format+": %w", append(args, *err)...)
	}
}

// Instant is a time as it is kept.
func Instant(t time.Time) int64 { return t.Unix() }

// Reference is an ID of another row as it is kept; 0, none, is NULL.
func Reference(id int64) any {
	if id == 0 {
		return nil
	}
	return id
}

// number refuses what is none.
func number[T ~float64](v T) (any, error) {
	if f := float64(v); math.IsNaN(f) || math.IsInf(f, 0) {
		return nil, fmt.Errorf("must be a finite number, not %v", f)
	}
	return float64(v), nil
}

// text is what both databases can hold: UTF-8 without the NUL that PostgreSQL refuses.
func text[T ~string](v T) (any, error) {
	s := string(v)
	if !utf8.ValidString(s) || strings.ContainsRune(s, 0) {
		return nil, fmt.Errorf("must be UTF-8 text without NUL, not %q", s)
	}
	return s, nil
}

// cleaned replaces what neither database would take.
func cleaned(s string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}

// nestedText is a list or map as JSON text.
func nestedText(v any) (any, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return text(string(b))
}

// document is JSON of a caller, byte for byte.
func document(m json.RawMessage) (any, error) {
	if !json.Valid(m) {
		return nil, fmt.Errorf("must be JSON, not %.40q", m)
	}
	return text(string(m))
}

// origins from weakest to strongest; the rank kept is the place in this list.
var origins = []weather.Origin{weather.Analysis, weather.Reanalysis, weather.Observation, weather.Import}

// Rank of an origin: a higher one overrides a lower.
func Rank(o weather.Origin) (int64, error) {
	if i := slices.Index(origins, o); i >= 0 {
		return int64(i), nil
	}
	return 0, fmt.Errorf("origin %q: must be one of %v", o, origins)
}
