// Package page is what people see in a browser: pages made on the server, which
// work without script, in the farm's own units, zone and language. It checks who
// asks and lays out what stands in the books; whether an input is right is
// decided by commands, as for the HTTP interface.
package page

import (
	"context"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"sync"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/message/link"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/picture"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/service/scene"
	"winterstand/internal/unit"
)

// Judge computes what is not stored. store.ErrNotFound: no such bed on this
// farm; *scene.Blind: nothing can be seen.
type Judge interface {
	Outlook(ctx context.Context, farmID, bedID int64) (scene.Outlook, error)
	// WhatIf judges the bed under another cover or mulch; an empty cover or
	// missing mulch is as it is.
	WhatIf(ctx context.Context, farmID, bedID int64, cover string, mulchCm unit.Maybe[float64]) (farm.Verdict, error)
}

// Mailer sends a sign-in letter.
type Mailer interface {
	Mail(ctx context.Context, to farm.Recipient, subject, text string) error
}

// Options are what the pages are made of.
type Options struct {
	Commands  commands.Service
	Judge     Judge
	Plans     plan.Reader
	Draw      func(o scene.Outlook, bed, crop string, s phrase.Speaker) picture.Bed
	Mailer    Mailer   // nil: no mail is set up
	Channels  []string // store.Email, ledger.SMS: what is set up
	Sources   []string // forecast services, in their order
	Signer    link.Signer
	Phrases   *phrase.Book
	PublicURL string
	Log       *slog.Logger
}

// Site is all pages.
type Site struct {
	Options
	screens   []Screen
	templates map[string]*template.Template
	assets    assets
	letters   sync.WaitGroup
}

// New reads the templates and assets, which are part of the program.
func New(o Options) (*Site, error) {
	s := &Site{Options: o, screens: screens(), assets: readAssets()}
	var err error
	if s.templates, err = readTemplates(); err != nil {
		return nil, fmt.Errorf("pages: %w", err)
	}
	return s, nil
}

// Mount puts the pages on a router. What no page answers is a plain page too.
func (s *Site) Mount(r chi.Router) {
	r.Group(func(r chi.Router) {
		r.Use(s.logged, s.rescued, s.guarded)
		r.Get("/assets/{name}", s.asset)
		for _, screen := range s.screens {
			screen.Routes(s, r)
		}
	})
	nothing := s.guarded(s.open(func(*visit) error { return errNoPage })).ServeHTTP
	r.NotFound(nothing)
	r.MethodNotAllowed(nothing)
}

// Wait ends when the letters under way have left.
func (s *Site) Wait() { s.letters.Wait() }

// Handler is the pages alone.
func (s *Site) Handler() http.Handler {
	r := chi.NewRouter()
	s.Mount(r)
	return r
}
