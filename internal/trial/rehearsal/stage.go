package rehearsal

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"winterstand/internal/app"
	"winterstand/internal/outside/serving"
	appsettings "winterstand/internal/outside/settings"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
	"winterstand/internal/trial/catcher"
	"winterstand/internal/trial/standin"
	"winterstand/internal/weather"
)

// Stage is everything a rehearsal runs on, on this machine alone: forecast
// stand-in, mail server, text gateway, and the service itself.
type Stage struct {
	Clock   *Clock
	Service *app.Service
	Catcher *catcher.Catcher
	Token   string
	FarmID  int64

	folder  string
	standin *serving.Running
	mu      sync.Mutex
	told    map[int64][]string // channels by notice
}

// Options of a stage.
type Options struct {
	Winter Winter
	From   time.Time
	Listen string // of pages and API
	Log    *slog.Logger
}

// issueEvery: the stand-in issues a new forecast every three hours.
const issueEvery = 3 * time.Hour

// horizon of the stand-in's forecasts, like the service it stands in for.
const horizon = 182

// Raise starts everything and registers the farm. Strike ends it.
func Raise(ctx context.Context, o Options) (_ *Stage, err error) {
	s := &Stage{Clock: NewClock(o.From), told: map[int64][]string{}}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.Strike())
		}
	}()
	if s.folder, err = os.MkdirTemp("", "winterstand-demo-"); err != nil {
		return nil, fmt.Errorf("raise the demo: %w", err)
	}
	if s.Catcher, err = catcher.Start(ctx, catcher.Options{Now: s.Clock.Now}); err != nil {
		return nil, err
	}
	base, err := s.forecastServer(o.Winter)
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", o.Listen)
	if err != nil {
		return nil, fmt.Errorf("listen: %w", err)
	}
	settings := s.settings(base, l.Addr().String())
	if err := settings.Validate(); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	s.Service, err = app.New(ctx, app.Options{Settings: settings, Migrate: true, Now: s.Clock.Now, Log: o.Log, Told: s.hear, Listener: l,
		Sleep: func(context.Context, time.Duration) error { return nil }})
	if err != nil {
		return nil, errors.Join(err, l.Close())
	}
	made, err := Settle(ctx, s.Service.Commands)
	s.Token, s.FarmID = made.Token, made.Farm.ID
	return s, err
}

func (s *Stage) forecastServer(w Winter) (string, error) {
	h := standin.New(standin.Options{
		Places: []standin.Place{Place()}, Now: s.Clock.Now, IssueEvery: issueEvery,
		Forecast: func(_ standin.Place, issued time.Time) []weather.Hour { return w.Forecast(issued, horizon) },
		Past:     func(_ standin.Place, from, to time.Time) []weather.Hour { return w.Past(from, to) },
	})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", fmt.Errorf("forecast stand-in: %w", err)
	}
	s.standin = serving.Start(l, &http.Server{Handler: w.failing(h, s.Clock.Now), ReadHeaderTimeout: 10 * time.Second})
	return "http://" + l.Addr().String(), nil
}

// failing answers as the service does when it is down, while the story says so.
func (w Winter) failing(h http.Handler, now func() time.Time) http.Handler {
	return http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		for _, o := range w.Outages {
			if t := now(); t.After(o.From) && t.Before(o.To) {
				rw.Header().Set("Content-Type", "application/problem+json")
				rw.WriteHeader(http.StatusServiceUnavailable)
				_, _ = rw.Write([]byte(`{"type":"https://api.weather.gov/problems/UnavailableWebService","title":"Service Unavailable","status":503,"detail":"The stand-in rehearses an outage."}`))
				return
			}
		}
		h.ServeHTTP(rw, r)
	})
}

func (s *Stage) settings(forecastURL, listen string) appsettings.Settings {
	c := appsettings.Default()
	c.Database = "sqlite:" + filepath.Join(s.folder, "demo.db")
	c.Listen, c.PublicURL = listen, "http://"+listen
	c.Forecast.Sources = []string{"nws"}
	c.Forecast.NWS = appsettings.Source{BaseURL: forecastURL, Contact: "demo@quarrylane.example"}
	c.Mail = appsettings.Mail{Host: "127.0.0.1", Port: s.Catcher.SMTPPort(), From: "winterstand@quarrylane.example", TLS: "none"}
	c.SMS = appsettings.SMS{URL: s.Catcher.GatewayURL(), Method: http.MethodPost, From: "winterstand",
		Headers: map[string]string{"Content-Type": "application/json"},
		Body:    `{"to": {{json .To}}, "from": {{json .From}}, "text": {{json .Text}}, "key": {{json .Key}}}`}
	return c
}

// hear remembers by which channels a notice has left.
func (s *Stage) hear(_ context.Context, m store.Message, _ deliver.Envelope) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, id := range m.NoticeIDs {
		s.told[id] = append(s.told[id], m.Channel)
	}
}

// Strike ends everything in reverse order and removes what was kept.
func (s *Stage) Strike() error {
	var errs []error
	if s.Service != nil {
		errs = append(errs, s.Service.Close())
	}
	if s.standin != nil {
		errs = append(errs, s.standin.Close())
	}
	if s.Catcher != nil {
		errs = append(errs, s.Catcher.Close())
	}
	if s.folder != "" {
		errs = append(errs, os.RemoveAll(s.folder))
	}
	return errors.Join(errs...)
}

func decode(body json.RawMessage, into any) error {
	if err := json.Unmarshal(body, into); err != nil {
		return fmt.Errorf("facts: %w", err)
	}
	return nil
}

// Remember brings in so many days of the grower's own past weather, as from a
// file of theirs, so that hardening does not begin from a default.
func (s *Stage) Remember(ctx context.Context, w Winter, days int) error {
	fields, err := s.Service.Book.UnplacedFields(ctx)
	if err != nil {
		return err
	}
	for _, f := range fields {
		cell, err := s.Service.Runner.Settle(ctx, f.ID)
		if err != nil {
			return err
		}
		now := s.Clock.Now()
		if err := s.Service.Runner.ImportHours(ctx, cell, w.Past(now.AddDate(0, 0, -days), now.Truncate(time.Hour))); err != nil {
			return err
		}
	}
	return nil
}
