package openmeteo

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// service answers forecasts and ensembles.
type service struct {
	now                time.Time
	forecast, ensemble http.HandlerFunc
	asked              []*url.URL
	source             *Source
}

func say(status int, body string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json; charset=utf-8")
		w.WriteHeader(status)
		_, _ = w.Write([]byte(body))
	}
}

func newService(t *testing.T, o Options) *service {
	t.Helper()
	s := &service{now: now}
	mux := http.NewServeMux()
	mux.HandleFunc("/v1/forecast", func(w http.ResponseWriter, r *http.Request) { s.forecast(w, r) })
	mux.HandleFunc("/v1/ensemble", func(w http.ResponseWriter, r *http.Request) { s.ensemble(w, r) })
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.asked = append(s.asked, r.URL)
		w.Header().Set("Date", s.now.Format(http.TimeFormat))
		mux.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	client, err := fetch.NewClient(fetch.Options{Program: "winterstand/test", Contact: "grower@example.org", Now: func() time.Time { return s.now },
		Sleep: func(context.Context, time.Duration) error { return nil }})
	require.NoError(t, err)
	o.BaseURL = server.URL
	if o.EnsembleBaseURL != "" {
		o.EnsembleBaseURL = server.URL
	}
	s.source, err = New(client, o)
	require.NoError(t, err)
	s.forecast = say(200, string(doc(`,"temperature_2m":"°C"`, `,"temperature_2m":[-1,-2,-3]`)))
	s.ensemble = say(200, string(doc(`,"temperature_2m":"°C","temperature_2m_member01":"°C"`, `,"temperature_2m":[1,2,3],"temperature_2m_member01":[1,2,3]`)))
	return s
}

func (s *service) cell(t *testing.T) forecast.Cell {
	t.Helper()
	c, err := s.source.Resolve(context.Background(), forecast.Point{Latitude: 44.95004, Longitude: -93.2, Elevation: unit.Some(257.0)})
	require.NoError(t, err)
	return c
}

func TestWhatIsAskedFor(t *testing.T) {
	s := newService(t, Options{Models: []string{"gfs_seamless"}, APIKey: "secret/key"})
	c := s.cell(t)
	assert.Equal(t, "openmeteo:44.95,-93.2,257", c.Key)
	d, err := s.source.Fetch(context.Background(), c, forecast.Validators{})
	require.NoError(t, err)
	assert.Len(t, d.Forecast.Layers[weather.Air], 3)
	assert.Equal(t, Credit, d.Forecast.Credit)
	require.Len(t, s.asked, 1, "no ensemble unless it is set up")
	q := s.asked[0].Query()
	for k, want := range map[string]string{
		"latitude": "44.95", "longitude": "-93.2", "elevation": "257", "temperature_unit": "celsius", "wind_speed_unit": "ms", "precipitation_unit": "mm",
		"timeformat": "unixtime", "timezone": "GMT", "forecast_days": "10", "models": "gfs_seamless", "apikey": "secret/key", "past_days": "",
	} {
		assert.Equal(t, want, q.Get(k), k)
	}
	assert.LessOrEqual(t, len(strings.Split(q.Get("hourly"), ",")), 10, "one call by the service's count")
}

func TestEnsemble(t *testing.T) {
	s := newService(t, Options{EnsembleBaseURL: "set", EnsembleModels: []string{"icon_seamless"}})
	d, err := s.source.Fetch(context.Background(), s.cell(t), forecast.Validators{})
	require.NoError(t, err)
	assert.Len(t, d.Forecast.Members, 2)
	assert.Empty(t, d.Forecast.Warnings)
	assert.Equal(t, "icon_seamless", s.asked[1].Query().Get("models"))

	for _, answer := range []http.HandlerFunc{say(500, `{"error":true,"reason":"overloaded"}`), say(200, `{`), say(200, string(doc("", "")))} {
		s.ensemble = answer
		s.now = s.now.Add(time.Hour)
		d, err = s.source.Fetch(context.Background(), s.cell(t), forecast.Validators{})
		require.NoError(t, err, "the forecast still counts")
		assert.Empty(t, d.Forecast.Members)
		require.Len(t, d.Forecast.Warnings, 1)
		assert.Contains(t, d.Forecast.Warnings[0], "no ensemble")
	}
}

func TestFailures(t *testing.T) {
	for _, c := range []struct {
		name   string
		status int
		body   string
		want   error
		says   string
	}{
		{"400", 400, `{"error":true,"reason":"Latitude must be in range of -90 to 90°"}`, forecast.ErrRejected, "Latitude must be in range"},
		{"429", 429, `{"error":true,"reason":"Minutely API request limit exceeded. Please try again in one minute."}`, forecast.ErrLimited, "Minutely"},
		{"503", 503, `{"error":true,"reason":"The service is overloaded"}`, forecast.ErrUnavailable, "overloaded"},
		{"error on 200", 200, `{"error":true,"reason":"x"}`, forecast.ErrUnavailable, "x"},
		{"streaming", 200, string(doc("", "")) + "Unexpected error while streaming data: x", forecast.ErrUnavailable, "streaming"},
		{"no temperature", 200, string(doc("", "")), forecast.ErrUnusable, "no air temperature"},
		{"inches of temperature", 200, string(doc(`,"temperature_2m":"inch"`, `,"temperature_2m":[1,2,3]`)), forecast.ErrUnusable, "inch"},
	} {
		s := newService(t, Options{APIKey: "secret/key"})
		s.forecast = say(c.status, c.body)
		_, err := s.source.Fetch(context.Background(), s.cell(t), forecast.Validators{})
		require.ErrorIs(t, err, c.want, c.name)
		assert.ErrorContains(t, err, c.says)
		assert.NotContains(t, err.Error(), "secret", "the key is not told")
	}
}

func TestForecastKeptByACacheIsOld(t *testing.T) {
	s := newService(t, Options{})
	s.now = now.Add(50 * time.Hour)
	d, err := s.source.Fetch(context.Background(), s.cell(t), forecast.Validators{})
	require.NoError(t, err)
	assert.Equal(t, forecast.Expired, forecast.Stale(d.Forecast, s.now, forecast.DefaultLimits).Grade)
}

func TestPast(t *testing.T) {
	s := newService(t, Options{})
	from := now.Truncate(time.Hour).Add(-40 * time.Hour) // 10 January, 14 UTC
	var times, air []string
	for i := range 60 {
		times = append(times, fmt.Sprint(from.Add(time.Duration(i)*time.Hour).Unix()))
		air = append(air, fmt.Sprint(-i%10))
	}
	s.forecast = say(200, fmt.Sprintf(`{"hourly_units":{"time":"unixtime","temperature_2m":"°C"},"hourly":{"time":[%s],"temperature_2m":[%s]}}`, strings.Join(times, ","), strings.Join(air, ",")))
	hours, origin, err := s.source.Past(context.Background(), s.cell(t), from, now.Add(24*time.Hour))
	require.NoError(t, err)
	assert.Equal(t, weather.Reanalysis, origin)
	assert.Len(t, hours, 40, "only hours that have ended")
	assert.Empty(t, weather.Holes(hours, from, now.Truncate(time.Hour)))
	assert.Equal(t, "2", s.asked[0].Query().Get("past_days"))
	assert.Equal(t, "1", s.asked[0].Query().Get("forecast_days"))

	_, _, err = s.source.Past(context.Background(), s.cell(t), now.AddDate(0, 0, -100), now)
	assert.ErrorIs(t, err, forecast.ErrNoPast)
	s.forecast = say(200, `{}`)
	_, _, err = s.source.Past(context.Background(), s.cell(t), from, now)
	assert.ErrorIs(t, err, forecast.ErrUnusable)
	s.forecast = say(400, `{}`)
	_, _, err = s.source.Past(context.Background(), s.cell(t), from, now)
	assert.ErrorIs(t, err, forecast.ErrRejected)
}

func TestSettings(t *testing.T) {
	s, err := New(nil, Options{})
	require.NoError(t, err)
	assert.Equal(t, "openmeteo", s.Name())
	for _, o := range []Options{{BaseURL: "x"}, {EnsembleBaseURL: "x", EnsembleModels: []string{"a"}}, {EnsembleBaseURL: PublicEnsembleURL}} {
		_, err := New(nil, o)
		assert.ErrorContains(t, err, "openmeteo", "%v", o)
	}
	_, err = s.Resolve(context.Background(), forecast.Point{Latitude: -91})
	assert.Error(t, err)
}
