// Package openmeteo reads forecasts in the form of Open-Meteo
// (https://open-meteo.com/en/docs), from the public service, its paid variant
// or a server of one's own. The public service is free for non-commercial use
// only: the source is used where it is asked for.
//
// The service does not say when its models ran. The time of the answer stands
// for the time of issue, so that age tells only how long ago it was fetched.
package openmeteo

import (
	"context"
	"fmt"
	"math"
	"net/url"
	"strings"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/weather"
)

// Public addresses of the service.
const (
	PublicURL         = "https://api.open-meteo.com"
	PublicEnsembleURL = "https://ensemble-api.open-meteo.com"
)

// Credit is what the licence (CC BY 4.0) asks to be shown.
const Credit = "Weather data by Open-Meteo.com (CC BY 4.0)"

const (
	name         = "openmeteo"
	days         = 10 // of forecast; with ten variables one call counts once against the limits
	mostPastDays = 92
)

// hourly variables that are asked for.
var variables = []string{
	"temperature_2m", "dew_point_2m", "relative_humidity_2m", "cloud_cover", "wind_speed_10m",
	"precipitation", "snowfall", "snow_depth", "shortwave_radiation",
}

// Options of the source.
type Options struct {
	BaseURL         string   // empty: PublicURL
	EnsembleBaseURL string   // empty: no ensemble is asked for
	APIKey          string   // for the paid service
	Models          []string // of the forecast; empty: the service's best match
	EnsembleModels  []string // needed when EnsembleBaseURL is set
}

// Source is Open-Meteo. Safe for concurrent use.
type Source struct {
	client   *fetch.Client
	base     fetch.Base
	ensemble *fetch.Base
	o        Options
}

var _ forecast.Source = (*Source)(nil)

// New makes the source.
func New(c *fetch.Client, o Options) (*Source, error) {
	if o.BaseURL == "" {
		o.BaseURL = PublicURL
	}
	base, err := fetch.ParseBase(o.BaseURL)
	if err != nil {
		return nil, fmt.Errorf("forecast source openmeteo: %w", err)
	}
	s := &Source{client: c, base: base, o: o}
	if o.EnsembleBaseURL == "" {
		return s, nil
	}
	e, err := fetch.ParseBase(o.EnsembleBaseURL)
	if err != nil {
		return nil, fmt.Errorf("forecast source openmeteo: ensemble_%w", err)
	}
	if len(o.EnsembleModels) == 0 {
		return nil, fmt.Errorf("forecast source openmeteo: ensemble_models: name at least one, such as \"icon_seamless\"")
	}
	s.ensemble = &e
	return s, nil
}

// Name is "openmeteo".
func (s *Source) Name() string { return name }

// Resolve needs no request: the service picks its grid cell itself.
func (s *Source) Resolve(_ context.Context, p forecast.Point) (forecast.Cell, error) {
	p, err := p.Normal()
	if err != nil {
		return forecast.Cell{}, fmt.Errorf("openmeteo point: %w", err)
	}
	c := forecast.Cell{
		Source: name, Latitude: p.Latitude, Longitude: p.Longitude, Elevation: p.Elevation,
		Resolved: s.client.Now().UTC(),
	}
	q := place(c)
	c.Key = name + ":" + q.Get("latitude") + "," + q.Get("longitude")
	if e := q.Get("elevation"); e != "" {
		c.Key += "," + e
	}
	return c, nil
}

func place(c forecast.Cell) url.Values {
	q := url.Values{"latitude": {forecast.Coordinate(c.Latitude)}, "longitude": {forecast.Coordinate(c.Longitude)}}
	if m, ok := c.Elevation.Get(); ok {
		q.Set("elevation", fmt.Sprintf("%.0f", m))
	}
	return q
}

func (s *Source) query(c forecast.Cell, vars, models []string) url.Values {
	q := place(c)
	for k, v := range map[string]string{
		"hourly": strings.Join(vars, ","), "temperature_unit": "celsius", "wind_speed_unit": "ms",
		"precipitation_unit": "mm", "timeformat": "unixtime", "timezone": "GMT",
	} {
		q.Set(k, v)
	}
	if len(models) > 0 {
		q.Set("models", strings.Join(models, ","))
	}
	if s.o.APIKey != "" {
		q.Set("apikey", s.o.APIKey)
	}
	return q
}

// Fetch gets the forecast and, where it is set up, the ensemble; an ensemble
// that cannot be had is a warning on the forecast.
func (s *Source) Fetch(ctx context.Context, c forecast.Cell, previous forecast.Validators) (forecast.Document, error) {
	q := s.query(c, variables, s.o.Models)
	q.Set("forecast_days", fmt.Sprint(days))
	r, err := s.get(ctx, s.base.URL("/v1/forecast", q), previous)
	if err != nil {
		return forecast.Document{}, fmt.Errorf("fetch openmeteo forecast %s: %w", c.Key, err)
	}
	d := r.Document(c)
	if r.NotModified {
		return d, nil
	}
	if d.Forecast, err = s.parse(r.Body, s.o.Models); err != nil {
		return forecast.Document{}, fmt.Errorf("fetch openmeteo forecast %s: %w", c.Key, s.bad(err))
	}
	d.Forecast.Issued = issued(d.Forecast, s.client.Now())
	if w := fetch.ElevationWarning(c.Point(), d.Forecast); w != "" {
		d.Forecast.Warnings = append(d.Forecast.Warnings, w)
	}
	if s.ensemble != nil {
		s.addMembers(ctx, c, &d.Forecast)
	}
	return d, nil
}

// issued is the time of the answer, unless the forecast begins before today
// (UTC): then something between us and the service has kept it, and its first
// hour is the best that is known of its age.
func issued(f weather.Forecast, now time.Time) time.Time {
	first := f.Layers[weather.Air][0].Start
	if first.Add(24 * time.Hour).Before(now) {
		return first
	}
	return f.Issued
}

func (s *Source) addMembers(ctx context.Context, c forecast.Cell, f *weather.Forecast) {
	q := s.query(c, []string{"temperature_2m"}, s.o.EnsembleModels)
	q.Set("forecast_days", fmt.Sprint(days))
	r, err := s.get(ctx, s.ensemble.URL("/v1/ensemble", q), forecast.Validators{})
	if err == nil {
		var e weather.Forecast
		if e, err = ParseEnsemble(r.Body, s.o.EnsembleModels, s.client.Now()); err == nil {
			f.Members = e.Members
			f.Refused = append(f.Refused, e.Refused...)
			return
		}
	}
	f.Warnings = append(f.Warnings, "no ensemble: "+s.withoutKey(err.Error()))
}

// get keeps the API key out of errors, which are logged and shown.
func (s *Source) get(ctx context.Context, address string, v forecast.Validators) (fetch.Response, error) {
	r, err := s.client.Get(ctx, fetch.Request{URL: address, Accept: "application/json", Validators: v})
	if e, ok := fetch.Detail(err); ok {
		c := *e
		c.URL = s.withoutKey(c.URL)
		err = &c
	}
	return r, err
}

func (s *Source) withoutKey(text string) string {
	if s.o.APIKey == "" {
		return text
	}
	return strings.ReplaceAll(strings.ReplaceAll(text, url.QueryEscape(s.o.APIKey), "…"), s.o.APIKey, "…")
}

func (s *Source) parse(body []byte, models []string) (weather.Forecast, error) {
	f, err := Parse(body, models, s.client.Now())
	if err != nil {
		return f, err
	}
	return f, fetch.Usable(f)
}

// bad gives an error about a document its kind: a failure while the service was
// writing passes, anything else is not usable.
func (s *Source) bad(err error) error {
	if _, ok := fetch.Detail(err); ok {
		return err
	}
	return fetch.Unusable(s.base.URL("/v1/forecast", nil), err)
}

// Past gives the service's own past hours, up to 92 days back.
func (s *Source) Past(ctx context.Context, c forecast.Cell, from, to time.Time) ([]weather.Hour, weather.Origin, error) {
	now := s.client.Now()
	back := int(math.Ceil(now.UTC().Truncate(24*time.Hour).Sub(from).Hours() / 24))
	if back > mostPastDays {
		return nil, "", fmt.Errorf("past hours for %s: %w before %d days ago", c.Key, forecast.ErrNoPast, mostPastDays)
	}
	q := s.query(c, variables, s.o.Models)
	q.Set("past_days", fmt.Sprint(max(back, 0)))
	q.Set("forecast_days", "1")
	address := s.base.URL("/v1/forecast", q)
	r, err := s.get(ctx, address, forecast.Validators{})
	if err != nil {
		return nil, "", fmt.Errorf("past hours for %s: %w", c.Key, err)
	}
	f, err := s.parse(r.Body, s.o.Models)
	if err != nil {
		return nil, "", fmt.Errorf("past hours for %s: %w", c.Key, s.bad(err))
	}
	if ended := now.UTC().Truncate(time.Hour); to.After(ended) {
		to = ended
	}
	return weather.Hours(f, from, to), weather.Reanalysis, nil
}
