package api

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/validation"

	"winterstand/internal/service/commands"
)

// Problem is every error answer (RFC 9457, application/problem+json). It never
// repeats what was sent: that could be a secret.
type Problem struct {
	Type   string       `json:"type" format:"uri-reference" doc:"about:blank: the status says it all" example:"about:blank"`
	Title  string       `json:"title" doc:"The status in words" example:"Unprocessable Entity"`
	Status int          `json:"status" doc:"HTTP status" example:"422"`
	Detail string       `json:"detail" doc:"What is wrong, in one sentence" example:"latitude: must be from -90 to 90 degrees north"`
	Errors []FieldError `json:"errors,omitempty" doc:"Everything that is wrong with the request, by member"`
}

// FieldError is one thing that is wrong with a request.
type FieldError struct {
	Field  string `json:"field" doc:"The member, parameter or column" example:"latitude"`
	Reason string `json:"reason" doc:"What is wrong and what would be right" example:"must be from -90 to 90 degrees north"`
	Line   int    `json:"line,omitempty" doc:"Line of the file, for an import" example:"3"`
}

// Error is the detail.
func (p *Problem) Error() string { return p.Detail }

// GetStatus is what huma asks an error for.
func (p *Problem) GetStatus() int { return p.Status }

// ContentType is that of RFC 9457.
func (p *Problem) ContentType(string) string { return "application/problem+json" }

func problem(status int, detail string, errs ...FieldError) *Problem {
	if len(errs) > 0 {
		detail = errs[0].Field + ": " + errs[0].Reason
		if errs[0].Line > 0 {
			detail = fmt.Sprintf("line %d, %s", errs[0].Line, detail)
		}
	}
	if len(errs) > 1 {
		detail += fmt.Sprintf(" (and %d more)", len(errs)-1)
	}
	return &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: detail, Errors: errs}
}

func invalid(e *commands.Invalid) *Problem {
	errs := make([]FieldError, len(e.Problems))
	for i, p := range e.Problems {
		errs[i] = FieldError{Field: p.Field, Reason: p.Reason.String(), Line: p.Line}
	}
	return problem(http.StatusUnprocessableEntity, "", errs...)
}

// fromHuma turns what huma found into our form, leaving the values out.
func fromHuma(status int, msg string, errs ...error) huma.StatusError {
	if status >= http.StatusInternalServerError {
		return problem(status, "something went wrong on our side; it is in the log")
	}
	var list []FieldError
	for _, err := range errs {
		var detail *huma.ErrorDetail
		if errors.As(err, &detail) {
			list = append(list, FieldError{Field: member(detail.Location), Reason: plainly(detail.Message)})
		} else if err != nil {
			list = append(list, FieldError{Field: "request", Reason: err.Error()})
		}
	}
	return problem(status, msg, list...)
}

func member(location string) string {
	_, name, found := strings.Cut(location, ".")
	if !found {
		return location
	}
	return name
}

// plainly keeps the names of our types out of sight.
func plainly(message string) string {
	switch {
	case strings.HasPrefix(message, "json: "):
		return "does not have the form that /docs gives"
	case strings.HasPrefix(message, "invalid character"), strings.HasPrefix(message, "unexpected end of JSON"):
		return "is not JSON: " + message
	case strings.HasPrefix(message, huma.ErrUnknownContentType.Error()):
		return "must be sent as application/json"
	}
	return message
}

// huma keeps its error type and its words in package variables; they are ours
// for the whole program, set before the first route.
var speakPlainly = sync.OnceFunc(func() {
	huma.NewError = fromHuma
	huma.ValidateStrictCasing = true
	validation.MsgUnexpectedProperty = "is not known here; see /docs for the members there are"
	validation.MsgExpectedRFC3339DateTime = "must be a time with its zone, like 2026-11-15T07:00:00-06:00"
	validation.MsgExpectedRFC3339Date = "must be a calendar date like 2026-11-14"
	validation.MsgExpectedBoolean = "must be true or false"
	validation.MsgExpectedNumber = "must be a number"
	validation.MsgExpectedInteger = "must be a whole number"
	validation.MsgExpectedString = "must be text"
	validation.MsgExpectedArray = "must be a list"
	validation.MsgExpectedObject = "must be an object"
	validation.MsgExpectedMinimumNumber = "must be at least %v"
	validation.MsgExpectedMaximumNumber = "must be at most %v"
	validation.MsgExpectedMaxLength = "must have at most %d characters"
	validation.MsgExpectedMaxItems = "must have at most %d entries"
	validation.MsgExpectedRequiredProperty = "%s is missing"
})
