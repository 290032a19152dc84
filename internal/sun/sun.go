// Package sun tells where the sun stands: its elevation, and the sunrise and
// sunset of a day. Source of the position: Meeus, Astronomical Algorithms
// (1998), ch. 25 "Solar coordinates, low accuracy", and the equation of time of
// ch. 28, as in the NOAA solar calculator (from memory); good to about 0.01° and
// one minute between 1900 and 2100 below 72° latitude.
package sun

import (
	"math"
	"time"
)

// Horizon is the elevation of the sun's centre at sunrise and sunset, degrees:
// 34' of refraction and 16' of radius (the almanac convention).
const Horizon = -0.833

// State tells whether the sun crosses the horizon on a day.
type State int

// States of a day.
const (
	Rises State = iota
	AlwaysUp
	AlwaysDown
)

// Day is one solar day at a place.
type Day struct {
	State     State
	Rise, Set time.Time // zero unless State is Rises
	Noon      time.Time // the sun's transit
}

// Length is the time between sunrise and sunset.
func (d Day) Length() time.Duration {
	switch d.State {
	case AlwaysUp:
		return 24 * time.Hour
	case AlwaysDown:
		return 0
	}
	return d.Set.Sub(d.Rise)
}

// Elevation is the angle of the sun's centre above the horizon in degrees,
// without refraction; latitude and longitude in degrees, north and east positive.
func Elevation(at time.Time, lat, lon float64) float64 {
	decl, eot := position(at)
	hour := hourAngle(at, lon, eot)
	s := sind(lat)*sind(decl) + cosd(lat)*cosd(decl)*cosd(hour)
	return asind(s)
}

// On gives sunrise, noon and sunset of the solar day whose noon is nearest to
// the instant near; pass the local civil noon of the day that is meant.
func On(near time.Time, lat, lon float64) Day {
	noon := near
	for range 2 {
		_, eot := position(noon)
		noon = noon.Add(-angle(hourAngle(noon, lon, eot)))
	}
	rise, state := crossing(noon, lat, lon, -1)
	if state != Rises {
		return Day{State: state, Noon: noon}
	}
	set, state := crossing(noon, lat, lon, +1)
	if state != Rises {
		return Day{State: state, Noon: noon}
	}
	return Day{Rise: rise, Set: set, Noon: noon}
}

// crossing refines the instant at which the sun passes Horizon before (-1) or
// after (+1) noon; the declination is that of the instant itself.
func crossing(noon time.Time, lat, lon, side float64) (time.Time, State) {
	at := noon
	for range 3 {
		decl, eot := position(at)
		c := (sind(Horizon) - sind(lat)*sind(decl)) / (cosd(lat) * cosd(decl))
		if c >= 1 {
			return time.Time{}, AlwaysDown
		}
		if c <= -1 {
			return time.Time{}, AlwaysUp
		}
		want := side * math.Acos(c) * 180 / math.Pi
		at = at.Add(angle(wrap(want - hourAngle(at, lon, eot))))
	}
	return at, Rises
}

// hourAngle is how far the sun is past the meridian, degrees in -180..180.
func hourAngle(at time.Time, lon, eotMinutes float64) float64 {
	u := at.UTC()
	minutes := float64(u.Hour()*60+u.Minute()) + float64(u.Second())/60 + eotMinutes
	return wrap(minutes/4 + lon - 180)
}

// position is the apparent declination in degrees and the equation of time in
// minutes.
func position(at time.Time) (decl, eot float64) {
	const j2000 = 946728000 // Unix seconds of 2000-01-01 12:00 UTC
	t := float64(at.Unix()-j2000) / 86400 / 36525
	l0 := math.Mod(280.46646+t*(36000.76983+t*0.0003032), 360)
	m := 357.52911 + t*(35999.05029-0.0001537*t)
	e := 0.016708634 - t*(0.000042037+0.0000001267*t)
	centre := sind(m)*(1.914602-t*(0.004817+0.000014*t)) + sind(2*m)*(0.019993-0.000101*t) + sind(3*m)*0.000289
	omega := 125.04 - 1934.136*t
	lambda := l0 + centre - 0.00569 - 0.00478*sind(omega)
	eps := 23.4392911 - t*(0.0130042+t*(0.00000016-0.000000504*t)) + 0.00256*cosd(omega)
	decl = asind(sind(eps) * sind(lambda))
	y := math.Pow(math.Tan(eps/2*math.Pi/180), 2)
	eot = 4 * 180 / math.Pi * (y*sind(2*l0) - 2*e*sind(m) + 4*e*y*sind(m)*cosd(2*l0) - y*y/2*sind(4*l0) - 1.25*e*e*sind(2*m))
	return decl, eot
}

func angle(deg float64) time.Duration { return time.Duration(deg / 15 * float64(time.Hour)) }

func wrap(deg float64) float64 { return deg - 360*math.Round(deg/360) }
func sind(d float64) float64   { return math.Sin(d * math.Pi / 180) }
func cosd(d float64) float64   { return math.Cos(d * math.Pi / 180) }
func asind(x float64) float64  { return math.Asin(max(-1, min(1, x))) * 180 / math.Pi }
