// Package api is the service's HTTP interface: JSON in SI units under /v1, its
// OpenAPI document, and a page that shows it. It checks who asks and speaks
// HTTP; what an input means and whether it is right is decided by commands.
package api

import (
	"context"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humachi"
	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
)

// Reasoner says why a verdict is what it is, in a farm's language and units
// and a field's zone.
type Reasoner func(v farm.Verdict, f farm.Farm, zone *time.Location) string

// Teller says what a notice said, in a farm's language and units.
type Teller func(facts notice.Facts, f farm.Farm) string

// Judge computes what is not stored. store.ErrNotFound: no such bed on this
// farm; *NotYet: there is no forecast or history to compute from.
type Judge interface {
	// Outlook is the course of the forecast and of what the bed stands.
	Outlook(ctx context.Context, farmID, bedID int64) (Outlook, error)
	// WhatIf judges the bed as it would be, on the same members.
	WhatIf(ctx context.Context, farmID, bedID int64, q WhatIf) (farm.Verdict, error)
}

// NotYet says why something cannot be computed now.
type NotYet struct{ Reason string }

// Error is the reason.
func (e *NotYet) Error() string { return e.Reason }

// Options are what the interface is made of.
type Options struct {
	Commands commands.Service
	Judge    Judge // needed for outlook and what-if
	Books    Books // needed for plan, supply, stores, season and skill
	Reason   Reasoner
	Tell     Teller
	Log      *slog.Logger
	Version  string

	TellPlan PlanTeller // needed with Books
	TellNote NoteTeller // needed with Books

	// PerMinute is how many requests one token may make in a minute, 0:
	// DefaultPerMinute. As many requests of one address may come without a
	// token that is known. Each process counts its own.
	PerMinute int
}

// Bounds. Own defaults.
const (
	DefaultPerMinute = 3000
	maxBody          = 1 << 20
	maxImport        = 8 << 20
	importTimeout    = 60 * time.Second
)

// service holds the parts that the routes share.
type service struct {
	Options
	api huma.API
}

// New makes the handler for /v1/…, /openapi.json and /docs.
func New(o Options) http.Handler {
	speakPlainly()
	if o.PerMinute == 0 {
		o.PerMinute = DefaultPerMinute
	}
	r := chi.NewRouter()
	s := &service{Options: o}
	r.Use(s.logged, s.rescued, harmless, middleware.GetHead)
	r.NotFound(func(w http.ResponseWriter, _ *http.Request) {
		answer(w, problem(http.StatusNotFound, because("no_address")))
	})
	r.MethodNotAllowed(func(w http.ResponseWriter, req *http.Request) {
		w.Header().Set("Allow", strings.Join(methodsOf(r, req.URL.Path), ", "))
		answer(w, problem(http.StatusMethodNotAllowed, because("method")))
	})
	guarded := r.With(s.authenticated(), s.limitToken())
	s.api = humachi.New(guarded, config(o.Version))
	s.routes()
	s.documents(r)
	return r
}

func methodsOf(r chi.Routes, path string) (methods []string) {
	for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPatch, http.MethodDelete} {
		if r.Match(chi.NewRouteContext(), m, path) {
			methods = append(methods, m)
		}
	}
	return methods
}

// Mount puts the interface on a router, beside whatever else is there.
func Mount(r chi.Router, h http.Handler) {
	for _, pattern := range []string{"/v1", "/v1/*", "/openapi.json", "/docs"} {
		r.Handle(pattern, h)
	}
}

func (s *service) routes() {
	s.farmRoutes()
	s.fieldRoutes()
	s.bedRoutes()
	s.recipientRoutes()
	s.noticeRoutes()
	s.readingRoutes()
	s.roomRoutes()
	s.lotRoutes()
	s.cropRoutes()
	s.bookRoutes()
	s.storeRoutes()
	s.seasonRoutes()
	s.importRoutes()
}
