package farm

import (
	"fmt"
	"time"

	"winterstand/internal/timezone"
	"winterstand/internal/unit"
)

// DefaultSoil is taken where nobody said: the middle of the classes. Own default.
const DefaultSoil = "loam"

// Point is what a forecast point tells of the place it stands for.
type Point struct {
	Latitude, Longitude float64
	Elevation           unit.Maybe[float64] // m
	TimeZone            string              // IANA; empty: its service names none
}

// Place is where a field lies. Every fact of it is answered here and nowhere
// else: as the field has it, else as its forecast point tells it, else by a
// default.
type Place struct {
	// Latitude and Longitude, degrees, are those of the forecast point, so that
	// fields of one point share their ground; without one, the field's own.
	Latitude, Longitude float64
	ElevationM          float64 // 0 where nobody knows it
	Soil                string  // a key of microclimate's soil classes
	LowSpot             unit.Kelvins
	Zone                *time.Location // of its days, nights and clocks
	ByLongitude         bool           // no land's zone holds the place: Zone is the nautical one
}

// PlaceOf is the place of a field; point is missing until the field has one.
func PlaceOf(f Field, point unit.Maybe[Point]) Place {
	at, known := point.Get()
	if !known {
		at.Latitude, at.Longitude = f.Latitude, f.Longitude
	}
	p := Place{Latitude: at.Latitude, Longitude: at.Longitude, Soil: f.Soil, LowSpot: f.LowSpot,
		ElevationM: f.Elevation.Else(at.Elevation.Else(0))}
	if p.Soil == "" {
		p.Soil = DefaultSoil
	}
	p.Zone, p.ByLongitude = zoneOf(f, at.TimeZone)
	return p
}

// zoneOf is the field's own zone, else its service's, else by its coordinates.
// The farm's has no say: a farm that keeps UTC has no UTC fields.
func zoneOf(f Field, told string) (zone *time.Location, byLongitude bool) {
	for _, name := range []string{f.TimeZone, told} {
		if z, err := ParseZone(name); err == nil {
			return z, false
		}
	}
	name := timezone.At(f.Latitude, f.Longitude)
	return ZoneTold(name), timezone.AtSea(name)
}

// Zone is the zone of what is the whole farm's, its lists and letters: its own
// if somebody set it, else that of the first of its places, else UTC.
func (f Farm) Zone(places ...Place) *time.Location {
	if z, err := ParseZone(f.TimeZone); err == nil {
		return z
	}
	if len(places) > 0 {
		return places[0].Zone
	}
	return time.UTC
}

// ParseZone reads the IANA name of a zone.
func ParseZone(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, fmt.Errorf("time zone %q: must be an IANA name such as America/New_York", name)
	}
	z, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("time zone %q: is not one that we know; use an IANA name such as America/New_York", name)
	}
	return z, nil
}

// ZoneTold is the zone that a record such as a notice names, UTC where it names
// none that is known.
func ZoneTold(name string) *time.Location {
	if z, err := ParseZone(name); err == nil {
		return z
	}
	return time.UTC
}
