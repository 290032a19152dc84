package app

import (
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
	"winterstand/internal/web/api"
)

// Handler is everything that is served.
func (s *Service) Handler() (http.Handler, error) {
	r := chi.NewRouter()
	r.Use(middleware.Compress(5))
	api.Mount(r, api.New(api.Options{Commands: s.Commands, Judge: judge{s.Runner.Reader}, Books: s.Plans, Reason: s.reason, Tell: s.tell,
		TellPlan: s.tellPlan, TellNote: s.tellNote, Log: s.Log, Version: Version}))
	r.Method(http.MethodGet, "/healthz", api.Healthz())
	r.Method(http.MethodGet, "/readyz", api.Readyz(s.Book.Ping, s.Log))
	r.Method(http.MethodGet, "/metrics", api.Metrics(s.registry()))
	s.calendar().Mount(r)
	if s.inbound != nil {
		s.inbound.Mount(r)
	}
	return r, s.mountPages(r)
}

func (s *Service) registry() *prometheus.Registry {
	r := prometheus.NewRegistry()
	r.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
		api.BookCounts(s.Book, s.Now, s.Log), s.works.decisions)
	return r
}

// reason says a verdict in a farm's language, units and zone.
func (s *Service) reason(v farm.Verdict, f farm.Farm, zone *time.Location) string {
	return notice.ReasonText(s.speaker(f, zone), v)
}

// tell says what a notice said, in a farm's language and units.
func (s *Service) tell(facts notice.Facts, f farm.Farm) string {
	speaker := s.speaker(f, farm.ZoneTold(facts.Zone))
	return notice.Words(speaker, facts, s.Now()).Body[0]
}

// Speaker speaks to a farm about facts, in English and US units.
func (s *Service) Speaker(facts notice.Facts) phrase.Speaker {
	return s.speaker(farm.Farm{Language: phrase.Fallback, Units: unit.US}, farm.ZoneTold(facts.Zone))
}

func (s *Service) speaker(f farm.Farm, zone *time.Location) phrase.Speaker {
	return phrase.Speaker{Book: s.Phrases, Language: f.Language, Units: f.Units, Zone: zone}
}
