package api

import (
	"errors"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"winterstand/internal/message/phrase"
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

// because is a sentence of ours, of the section [problem] of the phrase files.
// Programs read it in English.
func because(key string, pairs ...any) phrase.Line { return phrase.Of("problem."+key, pairs...) }

func problem(status int, detail phrase.Line) *Problem { return said(status, detail.String()) }

func said(status int, detail string) *Problem {
	return &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: detail}
}

// faulty is a problem of some members: the first is told in the detail.
func faulty(status int, errs ...FieldError) *Problem {
	detail := because("member", "field", errs[0].Field, "reason", errs[0].Reason)
	if errs[0].Line > 0 {
		detail = because("in_line", "line", errs[0].Line, "what", detail)
	}
	if len(errs) > 1 {
		detail = because("and_more", "first", detail, "n", len(errs)-1)
	}
	p := problem(status, detail)
	p.Errors = errs
	return p
}

func invalid(e *commands.Invalid) *Problem {
	errs := make([]FieldError, len(e.Problems))
	for i, p := range e.Problems {
		errs[i] = FieldError{Field: p.Field, Reason: p.Reason.String(), Line: p.Line}
	}
	return faulty(http.StatusUnprocessableEntity, errs...)
}

// fromHuma turns what huma found into our form, leaving the values out.
func fromHuma(status int, msg string, errs ...error) huma.StatusError {
	if status >= http.StatusInternalServerError {
		return problem(status, because("broken"))
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
	if len(list) > 0 {
		return faulty(status, list...)
	}
	return said(status, msg)
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
		return because("form").String()
	case strings.HasPrefix(message, "invalid character"), strings.HasPrefix(message, "unexpected end of JSON"):
		return because("not_json", "why", message).String()
	case strings.HasPrefix(message, huma.ErrUnknownContentType.Error()):
		return because("json_only").String()
	}
	return message
}
