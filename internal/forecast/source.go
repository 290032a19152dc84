// Package forecast says what a public forecast source is to the application: its
// types, the errors that are told apart, and when a document is too old.
package forecast

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Point is a place on open ground.
type Point struct {
	Latitude  float64             `json:"latitude"`             // degrees north
	Longitude float64             `json:"longitude"`            // degrees east
	Elevation unit.Maybe[float64] `json:"elevation_m,omitzero"` // above sea level
}

// Normal checks the coordinates and turns a longitude of 180…360 into its
// western spelling.
func (p Point) Normal() (Point, error) {
	if math.IsNaN(p.Latitude) || p.Latitude < -90 || p.Latitude > 90 {
		return p, fmt.Errorf("latitude %v: must be -90 to 90 degrees", p.Latitude)
	}
	if math.IsNaN(p.Longitude) || p.Longitude < -180 || p.Longitude > 360 {
		return p, fmt.Errorf("longitude %v: must be -180 to 360 degrees", p.Longitude)
	}
	if p.Longitude > 180 {
		p.Longitude -= 360
	}
	return p, nil
}

// Coordinate writes a coordinate as NWS and MET Norway ask for it: at most four
// decimals, truncated (not rounded), no trailing zeros. Nine decimals are looked
// at, so that −93.19999999999999, a computer's −93.2, stays what it was.
func Coordinate(degrees float64) string {
	s := strconv.FormatFloat(degrees, 'f', 9, 64)
	whole, fraction, found := strings.Cut(s, ".")
	if !found {
		return noMinus(whole)
	}
	fraction = strings.TrimRight(fraction[:min(4, len(fraction))], "0")
	if fraction == "" {
		return noMinus(whole)
	}
	return whole + "." + fraction
}

func noMinus(s string) string {
	if s == "-0" {
		return "0"
	}
	return s
}

// Cell is what a source forecasts for a point, as it was resolved. It is plain
// data, kept as JSON by whoever asked.
type Cell struct {
	Source    string              `json:"source"`
	Key       string              `json:"key"` // names the forecast: "nws:FGZ/74,89"; equal keys share documents
	Latitude  float64             `json:"latitude"`
	Longitude float64             `json:"longitude"` // of the point it was resolved for
	Elevation unit.Maybe[float64] `json:"elevation_m,omitzero"`
	TimeZone  string              `json:"time_zone,omitempty"` // IANA, where the source tells it
	Meta      Meta                `json:"meta"`
	Resolved  time.Time           `json:"resolved"`
	Warnings  []string            `json:"warnings,omitempty"`
}

// Point is the place the cell was resolved for.
func (c Cell) Point() Point {
	return Point{Latitude: c.Latitude, Longitude: c.Longitude, Elevation: c.Elevation}
}

// Meta is what the source itself needs again.
type Meta struct {
	URLs     map[string]string `json:"urls,omitempty"`     // paths and links as the source gave them
	Zones    []string          `json:"zones,omitempty"`    // warning zones, "MNZ060"
	Stations []string          `json:"stations,omitempty"` // nearest first
}

// Validators are what a later conditional request needs. The zero value means
// that no document is stored: the request is then unconditional. Pass them only
// while the document they belong to is still there.
type Validators struct {
	LastModified string    `json:"last_modified,omitempty"` // exactly as received
	ETag         string    `json:"etag,omitempty"`
	Expires      time.Time `json:"expires,omitzero"` // before this the source is not asked again
	Issued       time.Time `json:"issued,omitzero"`  // of the stored forecast: one that is stale is asked for anew
}

// Stored tells whether there is a document to fall back on.
func (v Validators) Stored() bool { return v.LastModified != "" || v.ETag != "" || !v.Expires.IsZero() }

// Document is the outcome of a fetch. When NotModified is set the Forecast is
// empty and the stored one still counts; its validators move to the ones here.
type Document struct {
	Cell         Cell             `json:"cell"` // differs from the one asked for when the source has moved it: keep this one
	Forecast     weather.Forecast `json:"forecast"`
	Fetched      time.Time        `json:"fetched"`
	Expires      time.Time        `json:"expires,omitzero"`
	LastModified string           `json:"last_modified,omitempty"`
	ETag         string           `json:"etag,omitempty"`
	NotModified  bool             `json:"not_modified,omitempty"`
	Warnings     []string         `json:"warnings,omitempty"` // for the operator: deprecation, clock skew
}

// Validators for the next fetch of this document, as long as it is stored.
func (d Document) Validators() Validators {
	return Validators{LastModified: d.LastModified, ETag: d.ETag, Expires: d.Expires, Issued: d.Forecast.Issued}
}

// Renewed is a stored document after the next fetch: that fetch's document, or,
// where it said NotModified, the stored forecast with the moved validators.
func (d Document) Renewed(by Document) Document {
	if !by.NotModified {
		return by
	}
	by.Forecast, by.NotModified = d.Forecast, false
	return by
}

// Source is one public forecast service.
type Source interface {
	// Name is the source's key in the settings.
	Name() string
	// Resolve finds the cell of a point. Errors: ErrOutside when the service
	// does not cover it, and those of Fetch.
	Resolve(ctx context.Context, p Point) (Cell, error)
	// Fetch gets the forecast of a cell. Errors: ErrMoved when the cell is gone
	// (resolve again), ErrOutside, ErrUnusable for a document that cannot be
	// relied on, ErrRefused, ErrLimited, ErrUnavailable, ErrRejected. RetryAfter
	// tells when to come back.
	Fetch(ctx context.Context, c Cell, previous Validators) (Document, error)
	// Past gives hours that have happened, at or after from and before to, with
	// their origin. ErrNoPast when the source has none.
	Past(ctx context.Context, c Cell, from, to time.Time) ([]weather.Hour, weather.Origin, error)
}

// Alert is one official warning in force.
type Alert struct {
	Event       string    `json:"event"` // "Freeze Warning"
	Headline    string    `json:"headline"`
	Onset       time.Time `json:"onset,omitzero"`
	Ends        time.Time `json:"ends,omitzero"` // zero: until further notice
	Severity    string    `json:"severity"`      // CAP: Extreme, Severe, Moderate, Minor, Unknown
	Key         string    `json:"key"`           // VTEC office.phenomenon.significance.number, else the service's id
	Office      string    `json:"office"`        // who issued it
	Sent        time.Time `json:"sent"`
	Instruction string    `json:"instruction,omitempty"`
	Credit      string    `json:"credit"`
}

// Alerter is a source that also passes on official warnings.
type Alerter interface {
	Alerts(ctx context.Context, p Point) ([]Alert, error)
}
