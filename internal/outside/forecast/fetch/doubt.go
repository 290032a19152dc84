package fetch

import (
	"errors"
	"fmt"

	"winterstand/internal/weather"
)

// doubt is an error that says why a layer cannot be trusted.
type doubt struct {
	why    weather.Doubt
	quote  string // what the source wrote
	reason string
}

func (d *doubt) Error() string { return d.reason }

func doubtful(why weather.Doubt, quote, reason string, args ...any) error {
	return &doubt{why, plain(quote), fmt.Sprintf(reason, args...)}
}

// UnknownUnit is the error of a layer whose unit is not one of those it may carry.
func UnknownUnit(label string, labels ...string) error {
	return doubtful(weather.BadUnit, label, "unit %q: not one of %q", plain(label), labels)
}

// Refused is a layer that was left out for an error.
func Refused(layer string, err error) weather.Refusal {
	r := weather.Refusal{Layer: layer, Reason: err.Error(), Why: weather.Unreadable}
	var d *doubt
	if errors.As(err, &d) {
		r.Why, r.Quote = d.why, d.quote
	}
	return r
}
