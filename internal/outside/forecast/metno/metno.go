// Package metno reads the global point forecast of the Norwegian
// Meteorological Institute, Locationforecast 2.0
// (https://api.met.no/weatherapi/locationforecast/2.0/documentation).
package metno

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/weather"
)

// PublicURL is where the service lives.
const PublicURL = "https://api.met.no"

// Credit is what the licence (CC BY 4.0) asks to be shown.
const Credit = "MET Norway (CC BY 4.0)"

const (
	name = "metno"
	path = "/weatherapi/locationforecast/2.0/complete"
)

// Options of the source.
type Options struct {
	BaseURL string // empty: PublicURL
}

// Source is MET Norway. Safe for concurrent use.
type Source struct {
	client *fetch.Client
	base   fetch.Base
}

var _ forecast.Source = (*Source)(nil)

// New makes the source.
func New(c *fetch.Client, o Options) (*Source, error) {
	if o.BaseURL == "" {
		o.BaseURL = PublicURL
	}
	base, err := fetch.ParseBase(o.BaseURL)
	if err != nil {
		return nil, fmt.Errorf("forecast source metno: %w", err)
	}
	return &Source{client: c, base: base}, nil
}

// Name is "metno".
func (s *Source) Name() string { return name }

// Resolve needs no request: the service interpolates to any point.
func (s *Source) Resolve(_ context.Context, p forecast.Point) (forecast.Cell, error) {
	p, err := p.Normal()
	if err != nil {
		return forecast.Cell{}, fmt.Errorf("metno point: %w", err)
	}
	query := url.Values{"lat": {forecast.Coordinate(p.Latitude)}, "lon": {forecast.Coordinate(p.Longitude)}}
	key := name + ":" + query.Get("lat") + "," + query.Get("lon")
	var warnings []string
	if m, ok := p.Elevation.Get(); ok {
		query.Set("altitude", fmt.Sprintf("%.0f", math.Round(m)))
		key += "," + query.Get("altitude")
	} else {
		warnings = []string{"the field's elevation is not set: MET Norway's coarse terrain is used, which can be some kelvins off in hills"}
	}
	return forecast.Cell{
		Source: name, Key: key, Latitude: p.Latitude, Longitude: p.Longitude, Elevation: p.Elevation,
		Meta:     forecast.Meta{URLs: map[string]string{"forecast": path + "?" + query.Encode()}},
		Resolved: s.client.Now().UTC(), Warnings: warnings,
	}, nil
}

// Fetch gets the forecast. Before the stored document expires no request is
// made, as the terms ask.
func (s *Source) Fetch(ctx context.Context, c forecast.Cell, previous forecast.Validators) (forecast.Document, error) {
	address, err := s.base.Link(c.Meta.URLs["forecast"])
	if err != nil {
		return forecast.Document{}, fmt.Errorf("fetch metno forecast %s: cell: %w", c.Key, err)
	}
	r, err := s.client.Get(ctx, fetch.Request{URL: address, Accept: "application/json", Validators: previous})
	if err != nil {
		return forecast.Document{}, fmt.Errorf("fetch metno forecast %s: %w", c.Key, outside(err))
	}
	d := r.Document(c)
	if r.NotModified {
		return d, nil
	}
	d.Forecast, err = Parse(r.Body)
	if err == nil {
		err = fetch.Usable(d.Forecast)
	}
	if err != nil {
		return forecast.Document{}, fmt.Errorf("fetch metno forecast %s: %w", c.Key, fetch.Unusable(address, err))
	}
	return d, nil
}

// outside: the service answers 422 for a place its model does not cover.
func outside(err error) error {
	if e, ok := fetch.Detail(err); ok && e.Status == http.StatusUnprocessableEntity {
		return fetch.As(err, forecast.ErrOutside)
	}
	return err
}

// Past has nothing: the service forecasts only.
func (s *Source) Past(_ context.Context, c forecast.Cell, _, _ time.Time) ([]weather.Hour, weather.Origin, error) {
	return nil, "", fmt.Errorf("past hours for %s: %w: MET Norway's point forecast begins now; import records or use a second source", c.Key, forecast.ErrNoPast)
}
