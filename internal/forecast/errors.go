package forecast

import (
	"errors"
	"fmt"

	"winterstand/internal/weather"
)

// What can go wrong with a source, by what has to be done about it.
var (
	ErrOutside     = errors.New("the service does not cover this place")
	ErrMoved       = errors.New("the forecast cell is gone, resolve the place again")
	ErrNotFound    = errors.New("not found")
	ErrRefused     = errors.New("the service refuses this program")         // 403: the operator must act
	ErrLimited     = errors.New("the service asks for fewer requests")      // 429
	ErrRejected    = errors.New("the service does not accept this request") // 400 and the like: never repeated
	ErrUnavailable = errors.New("the service is not available")             // 5xx, time-outs, no network
	ErrUnusable    = errors.New("the document cannot be used")
	ErrNoPast      = errors.New("the source has no past hours")
)

// What a document is that is ErrUnusable, where it can be told.
var (
	ErrEmpty  = fmt.Errorf("%w, it is empty", ErrUnusable)
	ErrPage   = fmt.Errorf("%w, it is a web page", ErrUnusable)
	ErrNoJSON = fmt.Errorf("%w, it is no whole JSON", ErrUnusable)
)

// kinds are the names of the errors, for what is kept and said of them. ErrOutside
// and ErrMoved may wrap what else a status means, so they come first; ErrEmpty and
// its like are ErrUnusable too.
var kinds = []struct {
	is   error
	name string
}{
	{ErrOutside, "outside"}, {ErrMoved, "moved"}, {ErrNoPast, "no_past"}, {ErrNotFound, "not_found"}, {ErrRefused, "refused"},
	{ErrLimited, "limited"}, {ErrRejected, "rejected"}, {ErrEmpty, "empty"}, {ErrPage, "page"}, {ErrNoJSON, "no_json"}, {ErrUnusable, "unusable"}, {ErrUnavailable, "unavailable"},
}

// Other is the kind of an error that is none of a source's.
const Other = "other"

// Kinds lists every kind.
func Kinds() []string {
	out := []string{Other}
	for _, k := range kinds {
		out = append(out, k.name)
	}
	return out
}

// Kind names what has gone wrong.
func Kind(err error) string {
	for _, k := range kinds {
		if errors.Is(err, k.is) {
			return k.name
		}
	}
	return Other
}

// Answer is what a service itself said of an error, in its own words; empty: nothing.
func Answer(err error) string {
	var a interface{ Answer() string }
	if errors.As(err, &a) {
		return a.Answer()
	}
	return ""
}

// NoAir is a document without a usable air temperature; it is no forecast.
type NoAir struct{ Refused []weather.Refusal }

func (e *NoAir) Error() string {
	if len(e.Refused) == 0 {
		return "no air temperature in it"
	}
	text := "no usable air temperature in it"
	for _, r := range e.Refused {
		text += "; " + r.Layer + ": " + r.Reason
	}
	return text
}
