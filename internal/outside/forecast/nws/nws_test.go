package nws

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
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

// service is a server with one answer for each path.
type service struct {
	*httptest.Server
	now    time.Time
	paths  map[string]http.HandlerFunc
	asked  []string // method-less request lines with the Accept header
	source *Source
}

var issue = time.Date(2026, 1, 12, 9, 13, 0, 0, time.UTC)

func newService(t *testing.T) *service {
	t.Helper()
	s := &service{now: issue.Add(time.Hour), paths: map[string]http.HandlerFunc{}}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Date", s.now.Format(http.TimeFormat))
		s.asked = append(s.asked, r.URL.RequestURI()+" "+r.Header.Get("Accept"))
		if h, ok := s.paths[r.URL.Path]; ok {
			h(w, r)
			return
		}
		problem(404, "NotFound", "Not Found")(w, r)
	}))
	t.Cleanup(s.Close)
	client, err := fetch.NewClient(fetch.Options{
		Program: "winterstand/test", Contact: "grower@example.org", Now: func() time.Time { return s.now },
		Sleep: func(context.Context, time.Duration) error { return nil },
	})
	require.NoError(t, err)
	s.source, err = New(client, Options{BaseURL: s.URL})
	require.NoError(t, err)
	return s
}

func say(body string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/geo+json")
		w.Header().Set("Last-Modified", "Mon, 12 Jan 2026 09:13:00 GMT")
		_, _ = fmt.Fprint(w, body)
	}
}

func problem(status int, kind, title string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/problem+json")
		w.WriteHeader(status)
		_, _ = fmt.Fprintf(w, `{"type":"https://api.weather.gov/problems/%s","title":%q,"status":%d}`, kind, title, status)
	}
}

// pointFor is a /points document with the service's public host in its links.
func pointFor(x int) string {
	g := fmt.Sprintf("https://api.weather.gov/gridpoints/MPX/%d,72", x)
	return fmt.Sprintf(`{"properties":{"gridId":"MPX","gridX":%d,"gridY":72,"timeZone":"America/Chicago","forecastGridData":%q,"observationStations":%q,"forecastZone":"https://api.weather.gov/zones/forecast/MNZ060"}}`, x, g, g+"/stations")
}

func stationsOf(ids ...string) string {
	var f []string
	for _, id := range ids {
		f = append(f, fmt.Sprintf(`{"properties":{"stationIdentifier":%q}}`, id))
	}
	return `{"features":[` + strings.Join(f, ",") + `]}`
}

var home = forecast.Point{Latitude: 44.95004, Longitude: -93.2, Elevation: unit.Some(250.0)}

// usual sets the answers of a place that is well.
func (s *service) usual() {
	s.paths["/points/44.95,-93.2"] = say(pointFor(108))
	s.paths["/gridpoints/MPX/108,72/stations"] = say(stationsOf("KAAA", "KBBB", "KCCC", "KDDD"))
	s.paths["/gridpoints/MPX/108,72"] = say(string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT24H", "-6.5")))))
}

func (s *service) resolve(t *testing.T) forecast.Cell {
	t.Helper()
	c, err := s.source.Resolve(context.Background(), home)
	require.NoError(t, err)
	return c
}

func (s *service) fetch(c forecast.Cell) (forecast.Document, error) {
	return s.source.Fetch(context.Background(), c, forecast.Validators{})
}

func TestResolveAndFetch(t *testing.T) {
	s := newService(t)
	s.usual()
	c := s.resolve(t)
	assert.Equal(t, "nws:MPX/108,72", c.Key)
	assert.Equal(t, []string{"KAAA", "KBBB", "KCCC"}, c.Meta.Stations)
	assert.Equal(t, []string{"MNZ060"}, c.Meta.Zones)
	assert.Equal(t, home.Latitude, c.Latitude)
	assert.Equal(t, s.now, c.Resolved)
	d, err := s.fetch(c)
	require.NoError(t, err)
	assert.Equal(t, c, d.Cell)
	assert.Equal(t, "Mon, 12 Jan 2026 09:13:00 GMT", d.LastModified)
	assert.Empty(t, d.Warnings)
	assert.Empty(t, d.Forecast.Warnings)
	assert.Equal(t, []string{
		"/points/44.95,-93.2 application/geo+json", "/gridpoints/MPX/108,72/stations?limit=3 application/geo+json",
		"/gridpoints/MPX/108,72 application/geo+json",
	}, s.asked, "truncated, no trailing zeros, under the configured address")
}

func TestPlacesThatAreNotCovered(t *testing.T) {
	s := newService(t)
	s.paths["/points/44.95,-93.2"] = problem(404, "InvalidPoint", "Data Unavailable For Requested Point")
	_, err := s.source.Resolve(context.Background(), home)
	assert.ErrorIs(t, err, forecast.ErrOutside)
	assert.ErrorContains(t, err, "InvalidPoint")
	s.paths["/points/44.95,-93.2"] = say(`{"properties":{"type":"marine"}}`)
	_, err = s.source.Resolve(context.Background(), home)
	assert.ErrorIs(t, err, forecast.ErrOutside)
	s.paths["/points/44.95,-93.2"] = say(`{"properties":`)
	_, err = s.source.Resolve(context.Background(), home)
	assert.ErrorIs(t, err, forecast.ErrUnusable)
	_, err = s.source.Resolve(context.Background(), forecast.Point{Latitude: 200})
	assert.ErrorContains(t, err, "latitude")
}

func TestNoStationsIsAWarning(t *testing.T) {
	s := newService(t)
	s.usual()
	for _, h := range []http.HandlerFunc{problem(500, "UnexpectedProblem", ""), say(stationsOf()), say("{")} {
		s.paths["/gridpoints/MPX/108,72/stations"] = h
		s.now = s.now.Add(time.Hour)
		c := s.resolve(t)
		assert.Empty(t, c.Meta.Stations)
		assert.Len(t, c.Warnings, 1)
		_, _, err := s.source.Past(context.Background(), c, issue, s.now)
		assert.ErrorIs(t, err, forecast.ErrNoPast)
	}
}

// The cell has gone and the place has another: found again, once.
func TestMovedCell(t *testing.T) {
	s := newService(t)
	s.usual()
	c := s.resolve(t)
	s.paths["/gridpoints/MPX/108,72"] = problem(404, "InvalidGridpoint", "Invalid Gridpoint")
	_, err := s.fetch(c)
	require.ErrorIs(t, err, forecast.ErrMoved, "the place still names the cell that is not there")

	s.paths["/points/44.95,-93.2"] = say(pointFor(109))
	_, err = s.fetch(c)
	require.ErrorIs(t, err, forecast.ErrMoved, "the other cell is not there either")

	s.paths["/gridpoints/MPX/109,72"] = say(strings.Replace(string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT24H", "-6.5")))), "108", "109", 1))
	d, err := s.source.Fetch(context.Background(), c, forecast.Validators{LastModified: "x"})
	require.NoError(t, err)
	assert.Equal(t, "nws:MPX/109,72", d.Cell.Key)
	assert.Equal(t, "MPX/109,72", d.Forecast.Place)

	s.paths["/gridpoints/MPX/109,72"] = problem(404, "MarineForecastNotSupported", "Marine Forecast Not Supported")
	_, err = s.fetch(c)
	assert.ErrorIs(t, err, forecast.ErrOutside)
	delete(s.paths, "/points/44.95,-93.2")
	_, err = s.fetch(c)
	assert.ErrorIs(t, err, forecast.ErrMoved)
	assert.ErrorIs(t, err, forecast.ErrOutside)
}

// A cell that does not hold the field is resolved again once a day and said loudly.
func TestCellThatDoesNotHoldTheField(t *testing.T) {
	s := newService(t)
	s.usual()
	body := strings.ReplaceAll(string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT24H", "-6.5")))), "-93.", "-97.")
	s.paths["/gridpoints/MPX/108,72"] = say(body)
	c := s.resolve(t)
	n := len(s.asked)
	d, err := s.fetch(c)
	require.NoError(t, err, "not a refusal")
	require.Len(t, d.Forecast.Warnings, 1)
	assert.Contains(t, d.Forecast.Warnings[0], "ANOTHER PLACE")
	assert.Len(t, s.asked, n+3, "grid, point, stations")
	d, err = s.fetch(d.Cell)
	require.NoError(t, err)
	assert.Len(t, d.Forecast.Warnings, 1, "said each time")
	assert.Len(t, s.asked, n+4, "but asked once")
	s.now = s.now.Add(10 * time.Hour)
	s.paths["/points/44.95,-93.2"] = problem(500, "UnexpectedProblem", "")
	s.now = s.now.Add(14 * time.Hour)
	s.paths["/gridpoints/MPX/108,72"] = say(strings.Replace(body, "2026-01-12T09:13", "2026-01-13T09:13", 1))
	d, err = s.fetch(d.Cell)
	require.NoError(t, err, "the place cannot be resolved: the document still counts")
	assert.Len(t, d.Forecast.Warnings, 1)

	s.now = s.now.Add(25 * time.Hour)
	s.paths["/points/44.95,-93.2"] = say(pointFor(109))
	s.paths["/gridpoints/MPX/109,72"] = say(strings.NewReplacer("108", "109", "2026-01-12T09:13", "2026-01-14T09:13").Replace(string(document(temperatures(degC, value("2026-01-14T06:00:00Z/PT24H", "-6.5"))))))
	s.paths["/gridpoints/MPX/108,72"] = say(strings.Replace(body, "2026-01-12T09:13", "2026-01-14T09:13", 1))
	d, err = s.fetch(d.Cell)
	require.NoError(t, err)
	assert.Equal(t, "nws:MPX/109,72", d.Cell.Key)
	assert.Empty(t, d.Forecast.Warnings)
}

// A stale answer is asked for once more in the other media type.
func TestStaleAnswer(t *testing.T) {
	fresh := string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT24H", "-6.5"))))
	stale := strings.NewReplacer("2026-01-12T09:13", "2026-01-11T09:13", "-6.5", "-1").Replace(fresh)
	future := strings.NewReplacer("2026-01-12T09:13", "2027-01-12T09:13").Replace(fresh)
	byAccept := func(geo, ld string) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			body := geo
			if r.Header.Get("Accept") == jsonLD {
				body = ld
			}
			if body == "" {
				problem(500, "UnexpectedProblem", "")(w, r)
				return
			}
			say(body)(w, r)
		}
	}
	for _, c := range []struct {
		name    string
		geo, ld string
		coldest float64
		other   bool
	}{
		{"the other is fresh", stale, fresh, -6.5, true},
		{"both stale", stale, stale, -1, false},
		{"the other fails", stale, "", -1, false},
		{"the other is broken", stale, "{", -1, false},
		{"the other is useless", stale, string(document("")), -1, false},
		{"the first is from the future", future, fresh, -6.5, true},
		{"the other is from the future", stale, future, -1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newService(t)
			s.usual()
			s.now = issue.Add(time.Hour)
			s.paths["/gridpoints/MPX/108,72"] = byAccept(c.geo, c.ld)
			d, err := s.fetch(s.resolve(t))
			require.NoError(t, err)
			_, v := coldest(d.Forecast.Layers[weather.Air])
			assert.Equal(t, c.coldest, v)
			assert.Equal(t, c.other, d.LastModified == "", "its validators would not fit")
			assert.Equal(t, c.other, len(d.Warnings) > 0)
		})
	}
	s := newService(t)
	s.usual()
	_, err := s.fetch(s.resolve(t))
	require.NoError(t, err)
	assert.Len(t, s.asked, 3, "a fresh answer is asked for once")
}

func TestDocumentsThatCannotBeUsed(t *testing.T) {
	for name, body := range map[string]string{
		"truncated":       string(document(""))[:100],
		"no temperature":  string(document("")),
		"200 °C":          string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT1H", "200")))),
		"nulls only":      string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT1H", "null")))),
		"relative update": strings.Replace(string(document("")), "2026-01-12T09:13:00+00:00", "date:now", 1),
	} {
		s := newService(t)
		s.usual()
		s.paths["/gridpoints/MPX/108,72"] = say(body)
		_, err := s.fetch(s.resolve(t))
		assert.ErrorIs(t, err, forecast.ErrUnusable, name)
	}
	s := newService(t)
	_, err := s.fetch(forecast.Cell{Key: "nws:X/1,1"})
	assert.ErrorContains(t, err, "forecastGridData")
}

func TestRealFailures(t *testing.T) {
	for _, c := range []struct {
		file, kind string
		status     int
		want       error
		says       string
	}{
		{"nws/problem_404_InvalidPoint.json", "application/problem+json", 404, forecast.ErrOutside, "(InvalidPoint)"},
		{"nws/problem_500_UnexpectedProblem.json", "application/problem+json", 500, forecast.ErrUnavailable, "[request 16c91526]"},
		{"nws/problem_503_ForecastGridExpired.json", "application/problem+json", 503, forecast.ErrUnavailable, "was issued 2020-07-07T12:17:50+00:00 and has expired"},
		{"nws/problem_503_UnavailableWebService.json", "application/problem+json", 503, forecast.ErrUnavailable, "Please try again later"},
		{"nws/error_403_cdn_access_denied.html", "text/html", 403, forecast.ErrRefused, "HTML page titled “Access Denied”"},
	} {
		body := corpus(t, c.file)
		s := newService(t)
		s.paths["/points/44.95,-93.2"] = func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", c.kind)
			w.WriteHeader(c.status)
			_, _ = w.Write(body)
		}
		_, err := s.source.Resolve(context.Background(), home)
		require.ErrorIs(t, err, c.want, c.file)
		assert.ErrorContains(t, err, c.says)
	}
}

func TestElevationOfTheCellIsTold(t *testing.T) {
	s := newService(t)
	s.usual()
	c := s.resolve(t)
	c.Elevation = unit.Some(800.0)
	d, err := s.fetch(c)
	require.NoError(t, err)
	require.Len(t, d.Forecast.Warnings, 1)
	assert.Contains(t, d.Forecast.Warnings[0], "259 m above sea level, the field lies at 800 m")
}

// hourReport is one observation at seven minutes before an hour.
func hourReport(hour int, air string) string {
	at := time.Date(2026, 1, 12, hour, 0, 0, 0, time.UTC).Add(-7 * time.Minute)
	return fmt.Sprintf(`{"properties":{"timestamp":%q,"rawMessage":"K","temperature":{"unitCode":"wmoUnit:degC","value":%s,"qualityControl":"V"}}}`, at.Format(time.RFC3339), air)
}

func TestPastComesFromTheNearestStationThatHasIt(t *testing.T) {
	s := newService(t)
	s.usual()
	c := s.resolve(t)
	s.paths["/stations/KAAA/observations"] = say(`{"features":[` + hourReport(3, "-1") + `,` + hourReport(1, "-2") + `,` + hourReport(2, "null") + `]}`)
	s.paths["/stations/KBBB/observations"] = problem(500, "UnexpectedProblem", "")
	s.paths["/stations/KCCC/observations"] = func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Query().Get("cursor") == "" {
			say(`{"features":[`+hourReport(1, "-20")+`],"pagination":{"next":"https://api.weather.gov/stations/KCCC/observations?cursor=2"}}`)(w, r)
			return
		}
		say(`{"features":[`+hourReport(2, "-3")+`]}`)(w, r)
	}
	from := time.Date(2026, 1, 12, 1, 0, 0, 0, time.UTC)
	hours, origin, err := s.source.Past(context.Background(), c, from, from.Add(3*time.Hour))
	require.NoError(t, err)
	assert.Equal(t, weather.Observation, origin)
	require.Len(t, hours, 3)
	for i, want := range []unit.Celsius{-2, -3, -1} {
		assert.Equal(t, unit.Some(want), hours[i].Air)
		assert.Equal(t, from.Add(time.Duration(i)*time.Hour), hours[i].At)
	}
	assert.Contains(t, strings.Join(s.asked, "\n"), "/stations/KAAA/observations?end=2026-01-12T04%3A00%3A00Z&limit=500&start=2026-01-12T00%3A30%3A00Z")

	n := len(s.asked)
	_, _, err = s.source.Past(context.Background(), c, from, from.Add(time.Hour))
	require.NoError(t, err)
	assert.Len(t, s.asked, n+1, "the first station has it all")
}

func TestPastGoesBackAWeek(t *testing.T) {
	s := newService(t)
	s.usual()
	c := s.resolve(t)
	s.paths["/stations/KAAA/observations"] = say(`{"features":[` + hourReport(3, "-1") + `]}`)
	_, _, err := s.source.Past(context.Background(), c, issue.AddDate(0, 0, -60), issue)
	require.NoError(t, err)
	assert.Contains(t, strings.Join(s.asked, "\n"), "start=2026-01-05T09%3A43%3A00Z")
}

func TestPastThatFails(t *testing.T) {
	s := newService(t)
	s.usual()
	c := s.resolve(t)
	for _, id := range c.Meta.Stations {
		s.paths["/stations/"+id+"/observations"] = say(`{`)
	}
	_, _, err := s.source.Past(context.Background(), c, issue, issue.Add(time.Hour))
	assert.ErrorIs(t, err, forecast.ErrUnusable)
	s.paths["/stations/KAAA/observations"] = say(`{"features":[]}`)
	s.paths["/stations/KBBB/observations"] = say(`{"features":[` + hourReport(3, "-1") + `],"pagination":{"next":"https://x/../y"}}`)
	_, _, err = s.source.Past(context.Background(), c, issue, issue.Add(time.Hour))
	assert.Error(t, err)
	for _, id := range c.Meta.Stations {
		s.paths["/stations/"+id+"/observations"] = say(`{"features":null}`)
	}
	hours, _, err := s.source.Past(context.Background(), c, issue, issue.Add(time.Hour))
	require.NoError(t, err)
	assert.Empty(t, hours, "no report is no error, the hours are missing")
}

func TestAlertsOfAPoint(t *testing.T) {
	s := newService(t)
	s.now = evening
	s.paths["/alerts/active"] = say(string(list(listed("NEW", early), listed("NEW", late, "onset", `"soon"`))))
	alerts, err := s.source.Alerts(context.Background(), forecast.Point{Latitude: 44.95, Longitude: 266.8})
	assert.ErrorIs(t, err, forecast.ErrUnusable)
	assert.Len(t, alerts, 1, "what can be read is given all the same")
	assert.Equal(t, []string{"/alerts/active?point=44.95%2C-93.2&status=actual application/geo+json"}, s.asked)
	s.paths["/alerts/active"] = problem(503, "UnavailableWebService", "")
	_, err = s.source.Alerts(context.Background(), home)
	assert.ErrorIs(t, err, forecast.ErrUnavailable)
	_, err = s.source.Alerts(context.Background(), forecast.Point{Longitude: 999})
	assert.ErrorContains(t, err, "longitude")
}

func TestSettings(t *testing.T) {
	client, err := fetch.NewClient(fetch.Options{Program: "w/1", Contact: "a@b.example", Now: time.Now})
	require.NoError(t, err)
	s, err := New(client, Options{})
	require.NoError(t, err)
	assert.Equal(t, "nws", s.Name())
	assert.Equal(t, PublicURL, s.base.String())
	_, err = New(client, Options{BaseURL: "http://api.weather.gov"})
	assert.ErrorContains(t, err, "https")
}

// A cache that calls a stale document unmodified is not believed.
func TestStaleStoredDocumentIsAskedForAnew(t *testing.T) {
	s := newService(t)
	s.usual()
	c := s.resolve(t)
	body := string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT24H", "-6.5"))))
	s.paths["/gridpoints/MPX/108,72"] = func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("If-Modified-Since") != "" {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		say(body)(w, r)
	}
	v := forecast.Validators{LastModified: "x", Issued: s.now.Add(-11 * time.Hour)}
	d, err := s.source.Fetch(context.Background(), c, v)
	require.NoError(t, err)
	assert.True(t, d.NotModified)
	v.Issued = s.now.Add(-13 * time.Hour)
	d, err = s.source.Fetch(context.Background(), c, v)
	require.NoError(t, err)
	assert.False(t, d.NotModified)
	assert.Equal(t, issue, d.Forecast.Issued)
}
