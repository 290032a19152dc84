package standin_test

import (
	"context"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/outside/forecast/nws"
	"winterstand/internal/trial/standin"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// start of the invented course: 12 January 2026, 06 UTC, midnight in Chicago.
var start = time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC)

// course is a daily wave around −5 °C, coldest at 12 UTC, with snow each hour.
func course(from time.Time, n int) []weather.Hour {
	out := make([]weather.Hour, n)
	for i := range out {
		at := from.Add(time.Duration(i) * time.Hour)
		wave := math.Cos(2 * math.Pi * float64(at.Hour()-12) / 24)
		out[i] = weather.Hour{
			At: at, Air: unit.Some(unit.Celsius(-5 - 5*wave)), DewPoint: unit.Some(unit.Celsius(-12)),
			Wind: unit.Some(3.0), Cloud: unit.Some(0.25), Precip: unit.Some(0.2),
		}
	}
	return out
}

var field = standin.Place{
	Name: "Invented Field", Latitude: 45.1234, Longitude: -93.5, Elevation: unit.Some(260.0), TimeZone: "America/Chicago",
}

type fixture struct {
	clock  *standin.Clock
	source *nws.Source
	server *httptest.Server
}

func setUp(t *testing.T, change func(*standin.Options)) fixture {
	t.Helper()
	clock := standin.NewClock(start)
	o := standin.Options{
		Places: []standin.Place{field}, Now: clock.Now, IssueEvery: 6 * time.Hour,
		Forecast: func(_ standin.Place, issued time.Time) []weather.Hour { return course(issued.Add(-6*time.Hour), 180) },
		Past: func(_ standin.Place, from, to time.Time) []weather.Hour {
			return course(from, int(to.Sub(from).Hours()))
		},
	}
	if change != nil {
		change(&o)
	}
	server := httptest.NewServer(standin.New(o))
	t.Cleanup(server.Close)
	client, err := fetch.NewClient(fetch.Options{Program: "winterstand/test", Contact: "grower@example.org", Now: clock.Now})
	require.NoError(t, err)
	source, err := nws.New(client, nws.Options{BaseURL: server.URL})
	require.NoError(t, err)
	return fixture{clock, source, server}
}

func (f fixture) resolve(t *testing.T) forecast.Cell {
	t.Helper()
	cell, err := f.source.Resolve(context.Background(), forecast.Point{Latitude: 45.12345, Longitude: -93.5, Elevation: unit.Some(260.0)})
	require.NoError(t, err)
	return cell
}

func TestForecastSurvivesTheWireFormat(t *testing.T) {
	f := setUp(t, func(o *standin.Options) { o.MinimumBelow = 1 })
	cell := f.resolve(t)
	assert.Equal(t, "nws:DMO/10,20", cell.Key)
	assert.Equal(t, "America/Chicago", cell.TimeZone)
	assert.Equal(t, []string{"KD00"}, cell.Meta.Stations)
	assert.Empty(t, cell.Warnings)

	d, err := f.source.Fetch(context.Background(), cell, forecast.Validators{})
	require.NoError(t, err)
	assert.Equal(t, start, d.Forecast.Issued)
	assert.Empty(t, d.Forecast.Refused)
	assert.Empty(t, d.Forecast.Warnings)
	truth := course(start, 48)
	for i, h := range weather.Hours(weather.Forecast{Layers: map[weather.Quantity][]weather.Interval{
		weather.Air: d.Forecast.Layers[weather.Air], weather.DewPoint: d.Forecast.Layers[weather.DewPoint],
		weather.Precip: d.Forecast.Layers[weather.Precip], weather.Cloud: d.Forecast.Layers[weather.Cloud],
		weather.Wind: d.Forecast.Layers[weather.Wind],
	}}, start, start.Add(48*time.Hour)) {
		assert.InDelta(t, float64(truth[i].Air.Else(99)), float64(h.Air.Else(-99)), 0.28, "half a degree Fahrenheit at %s", h.At)
		assert.InDelta(t, -12, float64(h.DewPoint.Else(99)), 0.28)
		assert.InDelta(t, 0.2, h.Precip.Else(-1), 1e-9)
		assert.InDelta(t, 0.25, h.Cloud.Else(-1), 1e-9)
		assert.InDelta(t, 3, h.Wind.Else(-1), 0.26, "half a knot")
	}
	mins := d.Forecast.Layers[weather.AirMin]
	assert.Equal(t, time.Date(2026, 1, 13, 1, 0, 0, 0, time.UTC), mins[1].Start, "19:00 Central Standard Time")
	assert.Equal(t, 14*time.Hour, mins[1].End.Sub(mins[1].Start))
	assert.InDelta(t, -11, mins[1].Value.Else(0), 0.28)
	assert.InDelta(t, 12, d.Forecast.Layers[weather.Snowfall][1].Value.Else(0), 1e-6, "six hours of 0.2 mm, ten to one")
}

func TestNewForecastsAreIssuedAsTheClockRuns(t *testing.T) {
	f := setUp(t, nil)
	ctx := context.Background()
	cell := f.resolve(t)
	first, err := f.source.Fetch(ctx, cell, forecast.Validators{})
	require.NoError(t, err)

	f.clock.Add(time.Hour)
	second, err := f.source.Fetch(ctx, cell, first.Validators())
	require.NoError(t, err)
	assert.True(t, second.NotModified)
	assert.Equal(t, first.LastModified, second.LastModified)

	f.clock.Add(6 * time.Hour)
	third, err := f.source.Fetch(ctx, cell, second.Validators())
	require.NoError(t, err)
	assert.False(t, third.NotModified)
	assert.Equal(t, start.Add(6*time.Hour), third.Forecast.Issued)
}

func TestObservationsSurviveTheWireFormat(t *testing.T) {
	f := setUp(t, nil)
	cell := f.resolve(t)
	from := start.Add(-30 * time.Hour)
	hours, origin, err := f.source.Past(context.Background(), cell, from, start)
	require.NoError(t, err)
	assert.Equal(t, weather.Observation, origin)
	require.Len(t, hours, 30)
	for i, want := range course(from, 30) {
		assert.Equal(t, want.At, hours[i].At)
		assert.InDelta(t, float64(want.Air.Else(99)), float64(hours[i].Air.Else(-99)), 0.051)
		assert.InDelta(t, 3, hours[i].Wind.Else(-1), 0.26)
		assert.InDelta(t, 1.5/8, hours[i].Cloud.Else(-1), 1e-9, "FEW")
	}
}

func TestWarningsArePassedOn(t *testing.T) {
	f := setUp(t, func(o *standin.Options) {
		o.Warnings = func(_ standin.Place, now time.Time) []standin.Warning {
			w := standin.Warning{Phenomenon: "FZ", Number: 4, Sent: start.Add(-time.Hour), Onset: start.Add(time.Hour), Ends: start.Add(9 * time.Hour)}
			warning, watch := w, w
			warning.Event, warning.Significance = "Freeze Warning", "W"
			watch.Event, watch.Significance, watch.Action = "Freeze Watch", "A", "UPG"
			return []standin.Warning{watch, warning}
		}
	})
	p := forecast.Point{Latitude: 45.1234, Longitude: -93.5}
	alerts, err := f.source.Alerts(context.Background(), p)
	require.NoError(t, err)
	require.Len(t, alerts, 1)
	assert.Equal(t, "KDMO.FZ.W.0004", alerts[0].Key)
	f.clock.Add(10 * time.Hour)
	alerts, err = f.source.Alerts(context.Background(), p)
	require.NoError(t, err)
	assert.Empty(t, alerts, "it has ended")
}

func TestAnswersLikeTheService(t *testing.T) {
	f := setUp(t, func(o *standin.Options) {
		o.Documents = map[string]standin.Document{"/fixed": {ContentType: "text/plain", Body: []byte("as it is")}}
	})
	for _, c := range []struct {
		name, path, agent string
		status            int
		kind, contains    string
	}{
		{"anonymous", "/points/45.1234,-93.5", "", 403, "text/html", "Access Denied"},
		{"five decimals", "/points/45.12345,-93.5", "x", 301, "application/problem+json", ""},
		{"trailing zeros", "/points/45.1200,-93.5", "x", 301, "application/problem+json", ""},
		{"elsewhere", "/points/10,10", "x", 404, "application/problem+json", "InvalidPoint"},
		{"not a point", "/points/north", "x", 400, "application/problem+json", "invalid"},
		{"unknown parameter", "/points/45.1234,-93.5?now=1", "x", 400, "application/problem+json", "now"},
		{"unknown cell", "/gridpoints/DMO/1,1", "x", 404, "application/problem+json", "InvalidGridpoint"},
		{"unknown path", "/elsewhere", "x", 404, "application/problem+json", "NotFound"},
		{"unknown station", "/stations/XXXX/observations", "x", 404, "application/problem+json", "NotFound"},
		{"links name the public host", "/points/45.1234,-93.5", "x", 200, "application/geo+json", "https://api.weather.gov/gridpoints/DMO/10,20"},
		{"fixed document", "/fixed", "x", 200, "text/plain", "as it is"},
	} {
		t.Run(c.name, func(t *testing.T) {
			res, body := get(t, f.server.URL+c.path, c.agent, "")
			assert.Equal(t, c.status, res.StatusCode)
			assert.Equal(t, c.kind, res.Header.Get("Content-Type"))
			assert.Contains(t, body, c.contains)
			if c.status == 301 {
				assert.True(t, strings.HasPrefix(res.Header.Get("Location"), "/points/45.12"), "relative")
			}
		})
	}
}

func TestJSONLDHasItsPropertiesAtTheRoot(t *testing.T) {
	f := setUp(t, nil)
	res, body := get(t, f.server.URL+"/gridpoints/DMO/10,20", "x", "application/ld+json")
	assert.Equal(t, "application/ld+json", res.Header.Get("Content-Type"))
	var doc map[string]any
	require.NoError(t, json.Unmarshal([]byte(body), &doc))
	assert.Contains(t, doc, "temperature")
	g, err := nws.ParseGridpoint([]byte(body))
	require.NoError(t, err)
	assert.True(t, g.Holds(forecast.Point{Latitude: 45.12, Longitude: -93.5}))
	assert.False(t, g.Holds(forecast.Point{Latitude: 45.2, Longitude: -93.5}))
}

func TestNoForecastIsAnExpiredGrid(t *testing.T) {
	f := setUp(t, func(o *standin.Options) {
		o.Forecast = func(standin.Place, time.Time) []weather.Hour { return nil }
	})
	_, err := f.source.Fetch(context.Background(), f.resolve(t), forecast.Validators{})
	assert.ErrorIs(t, err, forecast.ErrUnavailable)
	assert.ErrorContains(t, err, "ForecastGridExpired")
}

func TestMissingQuantitiesStayMissing(t *testing.T) {
	f := setUp(t, func(o *standin.Options) {
		o.Forecast = func(_ standin.Place, issued time.Time) []weather.Hour {
			hours := course(issued, 48)
			for i := range hours {
				hours[i].Wind, hours[i].Precip = unit.None[float64](), unit.None[float64]()
			}
			hours[3].Air = unit.None[unit.Celsius]()
			return hours
		}
	})
	d, err := f.source.Fetch(context.Background(), f.resolve(t), forecast.Validators{})
	require.NoError(t, err)
	assert.Empty(t, d.Forecast.Refused)
	hours := weather.Hours(d.Forecast, start, start.Add(24*time.Hour))
	assert.Equal(t, []weather.Span{{From: start.Add(3 * time.Hour), To: start.Add(4 * time.Hour)}}, weather.Holes(hours, start, start.Add(24*time.Hour)))
	for _, h := range hours {
		assert.False(t, h.Wind.Known())
		assert.False(t, h.Precip.Known())
	}
}

func TestObservationsComeInPages(t *testing.T) {
	f := setUp(t, nil)
	res, body := get(t, f.server.URL+"/stations/KD00/observations?limit=2", "x", "")
	require.Equal(t, 200, res.StatusCode)
	list, next, err := nws.ParseObservations([]byte(body))
	require.NoError(t, err)
	assert.Len(t, list, 2)
	assert.True(t, strings.HasPrefix(next, "https://api.weather.gov/stations/KD00/observations?"))
	_, body = get(t, f.server.URL+strings.TrimPrefix(next, "https://api.weather.gov"), "x", "")
	more, _, err := nws.ParseObservations([]byte(body))
	require.NoError(t, err)
	assert.Len(t, more, 2)
	assert.Equal(t, list[0].At.Add(-time.Hour), more[1].At)
}

func get(t *testing.T, address, agent, accept string) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequest(http.MethodGet, address, nil)
	require.NoError(t, err)
	req.Header.Set("User-Agent", agent)
	req.Header.Set("Accept", accept)
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(req)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res, string(body)
}

// The windows of the night minimum keep standard time through the summer.
func TestSummerNightsBeginByStandardTime(t *testing.T) {
	f := setUp(t, nil)
	f.clock.Set(time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC))
	d, err := f.source.Fetch(context.Background(), f.resolve(t), forecast.Validators{})
	require.NoError(t, err)
	for _, w := range d.Forecast.Layers[weather.AirMin][1:] {
		assert.Equal(t, 1, w.Start.Hour(), "19:00 Central Standard Time is 20:00 by the summer clock")
		assert.Equal(t, 14*time.Hour, w.End.Sub(w.Start))
	}
}
