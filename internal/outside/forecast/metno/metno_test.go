package metno

import (
	"context"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
)

// service answers every request with one handler.
type service struct {
	now    time.Time
	answer http.HandlerFunc
	asked  []*http.Request
	source *Source
}

func newService(t *testing.T) *service {
	t.Helper()
	s := &service{now: time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC)}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.asked = append(s.asked, r)
		w.Header().Set("Date", s.now.Format(http.TimeFormat))
		s.answer(w, r)
	}))
	t.Cleanup(server.Close)
	client, err := fetch.NewClient(fetch.Options{Program: "winterstand/test", Contact: "grower@example.org", Now: func() time.Time { return s.now },
		Sleep: func(context.Context, time.Duration) error { return nil }})
	require.NoError(t, err)
	s.source, err = New(client, Options{BaseURL: server.URL})
	require.NoError(t, err)
	s.answer = s.say(200, "application/json", string(document0(allUnits, at(6, instant("-3")))))
	return s
}

func (s *service) say(status int, kind, body string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Last-Modified", "Mon, 12 Jan 2026 05:31:02 GMT")
		w.Header().Set("Expires", s.now.Add(31*time.Minute).Format(http.TimeFormat))
		w.WriteHeader(status)
		_, _ = w.Write([]byte(body))
	}
}

func (s *service) cell(t *testing.T) forecast.Cell {
	t.Helper()
	c, err := s.source.Resolve(context.Background(), forecast.Point{Latitude: 60.12349, Longitude: 9.58, Elevation: unit.Some(495.6)})
	require.NoError(t, err)
	return c
}

func TestFetch(t *testing.T) {
	s := newService(t)
	c := s.cell(t)
	assert.Equal(t, "metno:60.1234,9.58,496", c.Key)
	assert.Empty(t, c.Warnings)
	d, err := s.source.Fetch(context.Background(), c, forecast.Validators{})
	require.NoError(t, err)
	assert.Equal(t, "/weatherapi/locationforecast/2.0/complete?altitude=496&lat=60.1234&lon=9.58", s.asked[0].URL.RequestURI())
	assert.Equal(t, Credit, d.Forecast.Credit)
	assert.Contains(t, d.Forecast.Credit, "MET Norway")
	assert.Equal(t, s.now.Add(31*time.Minute), d.Expires)

	again, err := s.source.Fetch(context.Background(), c, d.Validators())
	require.NoError(t, err)
	assert.True(t, again.NotModified)
	assert.Len(t, s.asked, 1, "never before it expires")

	s.now = s.now.Add(31 * time.Minute)
	s.answer = s.say(304, "", "")
	again, err = s.source.Fetch(context.Background(), c, d.Validators())
	require.NoError(t, err)
	assert.True(t, again.NotModified)
	assert.Equal(t, "Mon, 12 Jan 2026 05:31:02 GMT", s.asked[1].Header.Get("If-Modified-Since"))
	assert.Equal(t, s.now.Add(31*time.Minute), again.Expires, "304 keeps the document and moves its expiry")
	assert.Equal(t, d.LastModified, again.LastModified)
}

func TestFailures(t *testing.T) {
	for _, c := range []struct {
		name, kind, body string
		status           int
		want             error
	}{
		{"outside", "text/plain", "outside the area", 422, forecast.ErrOutside},
		{"blocked", "text/html", "<html><title>403 Forbidden</title>", 403, forecast.ErrRefused},
		{"too many", "text/html", "", 429, forecast.ErrLimited},
		{"bad request in HTML", "text/html", "<html>", 400, forecast.ErrRejected},
		{"down", "text/html", "<html>", 502, forecast.ErrUnavailable},
		{"no temperature", "application/json", string(document0(allUnits, at(6, `"instant":{}`))), 200, forecast.ErrUnusable},
		{"in Fahrenheit", "application/json", string(document0(`{}`, at(6, instant("20")))), 200, forecast.ErrUnusable},
		{"truncated", "application/json", `{"type":`, 200, forecast.ErrUnusable},
	} {
		s := newService(t)
		s.answer = s.say(c.status, c.kind, c.body)
		_, err := s.source.Fetch(context.Background(), s.cell(t), forecast.Validators{})
		assert.ErrorIs(t, err, c.want, c.name)
	}
	s := newService(t)
	_, err := s.source.Fetch(context.Background(), forecast.Cell{Key: "metno:x"}, forecast.Validators{})
	assert.ErrorContains(t, err, "cell")
}

func TestDeprecationReachesTheOperator(t *testing.T) {
	s := newService(t)
	s.answer = s.say(203, "application/json", string(document0(allUnits, at(6, instant("-3")))))
	d, err := s.source.Fetch(context.Background(), s.cell(t), forecast.Validators{})
	require.NoError(t, err)
	require.Len(t, d.Warnings, 1)
	assert.Contains(t, d.Warnings[0], "203")
}

func TestNoElevationIsTold(t *testing.T) {
	s := newService(t)
	c, err := s.source.Resolve(context.Background(), forecast.Point{Latitude: -43.5, Longitude: 172.6})
	require.NoError(t, err)
	assert.Equal(t, "metno:-43.5,172.6", c.Key)
	assert.Len(t, c.Warnings, 1)
	assert.NotContains(t, c.Meta.URLs["forecast"], "altitude")
	_, err = s.source.Resolve(context.Background(), forecast.Point{Latitude: 100})
	assert.Error(t, err)
}

func TestNoPast(t *testing.T) {
	s := newService(t)
	hours, _, err := s.source.Past(context.Background(), s.cell(t), s.now.Add(-time.Hour), s.now)
	assert.Empty(t, hours)
	assert.ErrorIs(t, err, forecast.ErrNoPast)
	assert.Empty(t, s.asked)
}

func TestSettings(t *testing.T) {
	s, err := New(nil, Options{})
	require.NoError(t, err)
	assert.Equal(t, "metno", s.Name())
	_, err = New(nil, Options{BaseURL: "api.met.no"})
	assert.ErrorContains(t, err, "metno")
}
