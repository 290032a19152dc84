// Package nws reads the point forecasts, observations and warnings of the US
// National Weather Service (https://www.weather.gov/documentation/services-web-api).
package nws

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"sync"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/weather"
)

// PublicURL is where the service lives.
const PublicURL = "https://api.weather.gov"

// Credit is what is shown with the data; they are in the public domain, naming
// the source is asked for.
const Credit = "US National Weather Service"

// name is the key of this source in settings and cells.
const name = "nws"

// Media types of the service. Each is a cache entry of its own (Vary: Accept),
// so that the second can be fresh where the first is stale.
const (
	geoJSON = "application/geo+json"
	jsonLD  = "application/ld+json"
)

// Options of the source.
type Options struct {
	BaseURL string          // empty: PublicURL
	Limits  forecast.Limits // zero: forecast.DefaultLimits
}

// Source is the National Weather Service. Safe for concurrent use.
type Source struct {
	client *fetch.Client
	base   fetch.Base
	limits forecast.Limits

	mu       sync.Mutex
	resolved map[string]time.Time // cells that did not hold their field, when they were last resolved again
}

var (
	_ forecast.Source  = (*Source)(nil)
	_ forecast.Alerter = (*Source)(nil)
)

// New makes the source.
func New(c *fetch.Client, o Options) (*Source, error) {
	if o.BaseURL == "" {
		o.BaseURL = PublicURL
	}
	base, err := fetch.ParseBase(o.BaseURL)
	if err != nil {
		return nil, fmt.Errorf("forecast source nws: %w", err)
	}
	if o.Limits == (forecast.Limits{}) {
		o.Limits = forecast.DefaultLimits
	}
	return &Source{client: c, base: base, limits: o.Limits, resolved: map[string]time.Time{}}, nil
}

// Name is "nws".
func (s *Source) Name() string { return name }

func (s *Source) get(ctx context.Context, address string, v forecast.Validators, accept string) (fetch.Response, error) {
	return s.client.Get(ctx, fetch.Request{URL: address, Accept: accept, Validators: v})
}

// Resolve asks for the grid cell of a point, its zones, time zone and nearest
// stations. Stations that cannot be had are a warning, not a failure.
func (s *Source) Resolve(ctx context.Context, p forecast.Point) (forecast.Cell, error) {
	p, err := p.Normal()
	if err != nil {
		return forecast.Cell{}, fmt.Errorf("nws point: %w", err)
	}
	address := s.base.URL("/points/"+forecast.Coordinate(p.Latitude)+","+forecast.Coordinate(p.Longitude), nil)
	r, err := s.get(ctx, address, forecast.Validators{}, geoJSON)
	if err != nil {
		return forecast.Cell{}, fmt.Errorf("resolve place at nws: %w", fetch.OutsideOr(err))
	}
	cell, err := ParsePoint(r.Body)
	if err != nil {
		return forecast.Cell{}, fmt.Errorf("resolve place at nws: %w", unusable(address, err))
	}
	cell.Latitude, cell.Longitude, cell.Elevation = p.Latitude, p.Longitude, p.Elevation
	cell.Resolved = s.client.Now().UTC()
	if cell.Meta.Stations, err = s.stations(ctx, cell); err != nil {
		cell.Warnings = append(cell.Warnings, "no observations: "+err.Error())
	}
	return cell, nil
}

// unusable keeps a kind that an error already has.
func unusable(address string, err error) error {
	if errors.Is(err, forecast.ErrOutside) {
		return fmt.Errorf("%s: %w", address, err)
	}
	return fetch.Unusable(address, err)
}

// stationsAsked is how many stations are tried for observations.
const stationsAsked = 3

func (s *Source) stations(ctx context.Context, c forecast.Cell) ([]string, error) {
	link := c.Meta.URLs["observationStations"]
	if link == "" {
		return nil, errors.New("the place names no stations")
	}
	address, err := s.base.Link(link)
	if err != nil {
		return nil, err
	}
	r, err := s.get(ctx, address+"?"+url.Values{"limit": {fmt.Sprint(stationsAsked)}}.Encode(), forecast.Validators{}, geoJSON)
	if err != nil {
		return nil, err
	}
	ids, err := ParseStations(r.Body)
	return ids[:min(len(ids), stationsAsked)], err
}

// Fetch gets the raw grid of a cell. A stale answer is asked for once more in
// the other media type, and a stale stored document is not asked for
// conditionally, since a cache may call it unmodified for days. A cell that is gone, or no longer holds the field, is
// resolved again once; the document then names its new cell.
func (s *Source) Fetch(ctx context.Context, c forecast.Cell, previous forecast.Validators) (forecast.Document, error) {
	if s.grade(previous.Issued) != forecast.Fresh && !previous.Issued.IsZero() {
		previous = forecast.Validators{}
	}
	d, inside, err := s.fetch(ctx, c, previous)
	gone := errors.Is(err, forecast.ErrNotFound)
	if gone || err == nil && !d.NotModified && !inside && s.mayResolve(c) {
		d, inside, err = s.fetchAnew(ctx, c, d, err)
	}
	if err != nil {
		return forecast.Document{}, fmt.Errorf("fetch nws forecast %s: %w", c.Key, err)
	}
	if !d.NotModified && !inside {
		d.Forecast.Warnings = append(d.Forecast.Warnings, fmt.Sprintf(
			"THE FORECAST MAY BE FOR ANOTHER PLACE: grid cell %s does not hold the field at %s,%s",
			d.Forecast.Place, forecast.Coordinate(c.Latitude), forecast.Coordinate(c.Longitude)))
	}
	return d, nil
}

// fetchAnew resolves the place again and fetches its new cell. Where the place
// resolves to the same cell, the first outcome stands.
func (s *Source) fetchAnew(ctx context.Context, c forecast.Cell, d forecast.Document, err error) (forecast.Document, bool, error) {
	cell, errR := s.Resolve(ctx, c.Point())
	switch {
	case errR != nil && err == nil:
		return d, false, nil
	case errR != nil:
		return d, false, errors.Join(fetch.As(err, forecast.ErrMoved), errR)
	case cell.Key == c.Key && err == nil:
		d.Cell = cell
		return d, false, nil
	case cell.Key == c.Key:
		return d, false, moved(err)
	}
	d, inside, err := s.fetch(ctx, cell, forecast.Validators{})
	if errors.Is(err, forecast.ErrNotFound) {
		err = moved(err)
	}
	return d, inside, err
}

// moved names a grid that is not there: at sea there is none to come.
func moved(err error) error {
	var e *fetch.Error
	if errors.As(err, &e) && e.Problem != nil && marine(e.Problem.Title+e.Problem.Detail) {
		return fetch.As(err, forecast.ErrOutside)
	}
	return fetch.As(err, forecast.ErrMoved)
}

// mayResolve allows one new resolution a day for a cell that does not hold its field.
func (s *Source) mayResolve(c forecast.Cell) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	key := fmt.Sprintf("%s %g %g", c.Key, c.Latitude, c.Longitude)
	now := s.client.Now()
	if last, ok := s.resolved[key]; ok && now.Sub(last) < 24*time.Hour {
		return false
	}
	s.resolved[key] = now
	return true
}

// fetch gets and reads the grid; inside tells whether its polygon holds the field.
func (s *Source) fetch(ctx context.Context, c forecast.Cell, v forecast.Validators) (d forecast.Document, inside bool, err error) {
	address, err := s.base.Link(c.Meta.URLs["forecastGridData"])
	if err != nil {
		return d, false, fmt.Errorf("cell %s: forecastGridData: %w", c.Key, err)
	}
	r, err := s.get(ctx, address, v, geoJSON)
	if err != nil {
		return d, false, err
	}
	d = r.Document(c)
	if r.NotModified {
		return d, true, nil
	}
	g, err := ParseGridpoint(r.Body)
	if err != nil {
		return d, false, fetch.Unusable(address, err)
	}
	if s.grade(g.Forecast.Issued) != forecast.Fresh {
		g, d = s.fresher(ctx, address, g, d)
	}
	d.Forecast = g.Forecast
	if len(g.polygon) == 0 {
		d.Forecast.Latitude, d.Forecast.Longitude = c.Latitude, c.Longitude
	}
	if w := fetch.ElevationWarning(c.Point(), g.Forecast); w != "" {
		d.Forecast.Warnings = append(d.Forecast.Warnings, w)
	}
	if err := fetch.Usable(g.Forecast); err != nil {
		return d, false, fetch.Unusable(address, err)
	}
	return d, g.Holds(c.Point()), nil
}

// fresher asks for a stale grid in the other media type and gives the newer of
// the two; a failure leaves the first.
func (s *Source) fresher(ctx context.Context, address string, g Gridpoint, d forecast.Document) (Gridpoint, forecast.Document) {
	r, err := s.get(ctx, address, forecast.Validators{}, jsonLD)
	if err != nil {
		return g, d
	}
	other, err := ParseGridpoint(r.Body)
	if err != nil || fetch.Usable(other.Forecast) != nil || !s.better(other.Forecast, g.Forecast) {
		return g, d
	}
	if len(other.polygon) == 0 {
		other.polygon = g.polygon
	}
	fresh := r.Document(d.Cell)
	// The validators belong to the other media type's entry and must not be
	// sent with the usual one.
	fresh.LastModified, fresh.ETag = "", ""
	fresh.Warnings = append(fresh.Warnings, "the service's usual answer was stale; the fresher one of its other format is used")
	return other, fresh
}

// better: of a better grade for its age, or newer within the same.
func (s *Source) better(a, b weather.Forecast) bool {
	gradeA, gradeB := s.grade(a.Issued), s.grade(b.Issued)
	return gradeA < gradeB || gradeA == gradeB && gradeA != forecast.Expired && a.Issued.After(b.Issued)
}

func (s *Source) grade(issued time.Time) forecast.Grade {
	return forecast.Stale(weather.Forecast{Issued: issued}, s.client.Now(), s.limits).Grade
}
