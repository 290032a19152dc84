package fetch

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"winterstand/internal/forecast"
)

// Error is a failed exchange with a source. errors.Is finds its Kind and Cause.
type Error struct {
	Kind       error // one of the errors above
	URL        string
	Status     int       // 0: no answer
	Problem    *Problem  // what the service said, where it did in RFC 9457 form
	RetryAfter time.Time // earliest sensible repeat; zero: the next usual round, or never for ErrRejected
	RequestID  string    // the service's own, for a complaint
	Reason     string
	Cause      error
}

func (e *Error) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %v", e.URL, e.Kind)
	if e.Status != 0 {
		fmt.Fprintf(&b, " (HTTP %d)", e.Status)
	}
	if e.Reason != "" {
		b.WriteString(": " + e.Reason)
	}
	if e.Problem != nil {
		b.WriteString(": " + e.Problem.String())
	}
	if e.Cause != nil {
		b.WriteString(": " + e.Cause.Error())
	}
	if !e.RetryAfter.IsZero() {
		b.WriteString("; not again before " + e.RetryAfter.UTC().Format(time.RFC3339))
	}
	if e.RequestID != "" {
		b.WriteString(" [request " + e.RequestID + "]")
	}
	return b.String()
}

// Answer is what the service said: the status, and its own words where it gave any.
func (e *Error) Answer() string {
	if e.Status < http.StatusBadRequest {
		return ""
	}
	text := strings.TrimSpace(fmt.Sprintf("%d %s", e.Status, http.StatusText(e.Status)))
	if e.Problem != nil {
		text += ": " + e.Problem.String()
	}
	return text
}

// Unwrap lets errors.Is and errors.As see both the kind and the cause.
func (e *Error) Unwrap() []error {
	if e.Cause == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Cause}
}

// As gives a copy of err with another kind, for an adapter that knows what a
// status means here; any other error is given back as it is.
func As(err error, kind error) error {
	var e *Error
	if !errors.As(err, &e) {
		return err
	}
	c := *e
	c.Kind = kind
	return &c
}

// Unusable is an ErrUnusable about a document.
func Unusable(url string, cause error) error {
	kind := forecast.ErrUnusable
	var syntax *json.SyntaxError
	if errors.As(cause, &syntax) || errors.Is(cause, io.ErrUnexpectedEOF) {
		kind = forecast.ErrNoJSON
	}
	return &Error{Kind: kind, URL: url, Cause: cause}
}

// Detail is the *Error within an error.
func Detail(err error) (*Error, bool) {
	var e *Error
	ok := errors.As(err, &e)
	return e, ok
}
