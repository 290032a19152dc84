package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// op describes a route.
func op(method, path, id, tag, summary string) huma.Operation {
	return huma.Operation{
		DefaultStatus: statusOf(method, path),
		OperationID:   id, Method: method, Path: path, Summary: summary, Tags: []string{tag},
		Security:                     []map[string][]string{{"token": {}}},
		RejectUnknownQueryParameters: true,
		MaxBodyBytes:                 maxBody,
		Errors:                       errorsOf(method, path),
	}
}

// statusOf is what a route answers when all went well.
func statusOf(method, path string) int {
	switch {
	case method == http.MethodDelete:
		return http.StatusNoContent
	case method != http.MethodPost || strings.HasSuffix(path, "/what-if"):
		return http.StatusOK
	case strings.HasSuffix(path, "/test"):
		return http.StatusAccepted
	}
	return http.StatusCreated
}

func errorsOf(method, path string) []int {
	list := []int{http.StatusUnauthorized, http.StatusUnprocessableEntity, http.StatusTooManyRequests}
	if strings.Contains(path, "{") {
		list = append(list, http.StatusNotFound)
	}
	if method != http.MethodGet {
		list = append(list, http.StatusForbidden, http.StatusConflict)
	}
	if method == http.MethodPatch || method == http.MethodDelete {
		list = append(list, http.StatusPreconditionFailed)
	}
	if method == http.MethodPost || method == http.MethodPatch {
		list = append(list, http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	}
	return list
}

// handle registers a route whose errors are told in plain words.
func handle[I, O any](s *service, o huma.Operation, fn func(ctx context.Context, farmID int64, in *I) (*O, error)) {
	huma.Register(s.api, o, func(ctx context.Context, in *I) (*O, error) {
		out, err := fn(ctx, caller(ctx).FarmID, in)
		if err != nil {
			return nil, s.explain(ctx, o, err)
		}
		return out, nil
	})
}

// errStale is ErrChanged where the caller had named the version.
var errStale = errors.New("stale version named")

// explain is the one place where an error becomes an answer.
func (s *service) explain(ctx context.Context, o huma.Operation, err error) error {
	var wrong *commands.Invalid
	var refused *commands.Refused
	var notYet *NotYet
	var ready *Problem
	switch {
	case errors.As(err, &ready):
		return ready
	case errors.As(err, &wrong):
		return invalid(wrong)
	case errors.As(err, &refused):
		return problem(http.StatusConflict, refused.Reason)
	case errors.As(err, &notYet):
		return said(http.StatusConflict, notYet.Reason)
	case errors.Is(err, store.ErrNotFound):
		return problem(http.StatusNotFound, because("not_found"))
	case errors.Is(err, errStale):
		return problem(http.StatusPreconditionFailed, because("stale"))
	case errors.Is(err, store.ErrChanged):
		return problem(http.StatusConflict, because("changed"))
	case errors.Is(err, store.ErrExists):
		return problem(http.StatusConflict, because("exists"))
	}
	s.Log.ErrorContext(ctx, "request failed", "operation", o.OperationID, "error", err)
	return problem(http.StatusInternalServerError, because("broken"))
}

// IfMatch is the version that a change rests on. It is exported, like the other
// parts of requests, because huma looks into exported parts only.
type IfMatch struct {
	Tag string `header:"If-Match" doc:"The ETag that was read; the change is refused (412) when the entry has changed since. Left out: change what stands"`
}

func (m IfMatch) seen() (commands.Seen, error) {
	tag := strings.TrimSpace(m.Tag)
	if tag == "" || tag == "*" {
		return unit.None[int64](), nil
	}
	version, err := strconv.ParseInt(strings.Trim(tag, `"`), 10, 64)
	if err != nil {
		return unit.None[int64](), errStale // not a tag of ours: cannot match
	}
	return unit.Some(version), nil
}

// change runs a change that names the version it saw.
func change(m IfMatch, fn func(commands.Seen) error) error {
	seen, err := m.seen()
	if err != nil {
		return err
	}
	err = fn(seen)
	if seen.Known() && errors.Is(err, store.ErrChanged) {
		return fmt.Errorf("%w: %w", errStale, err)
	}
	return err
}

func etag(version int64) string { return `"` + strconv.FormatInt(version, 10) + `"` }

// ByID names one entry.
type ByID struct {
	ID int64 `path:"id" minimum:"1" doc:"Number of the entry"`
}

type changeByID[B any] struct {
	ByID
	IfMatch
	Body B
}

type removeByID struct {
	ByID
	IfMatch
}

// one entry with its version.
type one[T any] struct {
	ETag string `header:"ETag" doc:"Version of the entry, for If-Match. A bed's verdict is not part of it"`
	Body T
}

// plain is an answer that is no entry.
type plain[T any] struct{ Body T }

type nothing struct{}

// List is one page of entries.
type List[T any] struct {
	Items []T    `json:"items" doc:"The entries"`
	Next  string `json:"next,omitempty" doc:"Address of the next page; left out on the last one"`
}

type listed[T any] struct {
	Link string `header:"Link" doc:"The next page once more, with rel=next (RFC 8288)"`
	Body List[T]
}

// Paging is a cursor: entries after the one that the last page ended with.
type Paging struct {
	After int64 `query:"after" minimum:"0" doc:"Cursor: taken from next"`
	Limit int   `query:"limit" minimum:"1" maximum:"1000" default:"100" doc:"Entries on a page"`
}

// ask is one entry more than the page holds, to see whether there is a next.
func (p Paging) ask() store.Page { return store.Page{After: p.After, Limit: p.Limit + 1} }

// listOf cuts a page from what was asked for.
func listOf[E, T any](p Paging, path, query string, entries []E, id func(E) int64, view func(E) T) *listed[T] {
	out := &listed[T]{Body: List[T]{Items: []T{}}}
	if len(entries) > p.Limit {
		entries = entries[:p.Limit]
		out.Body.Next = fmt.Sprintf("%s?%safter=%d&limit=%d", path, query, id(entries[p.Limit-1]), p.Limit)
		out.Link = fmt.Sprintf(`<%s>; rel="next"`, out.Body.Next)
	}
	for _, e := range entries {
		out.Body.Items = append(out.Body.Items, view(e))
	}
	return out
}
