package microclimate

import (
	"fmt"
	"math"
	"time"

	"winterstand/internal/unit"
)

// Site is a place: degrees north and east, metres above the sea, soil class.
// Mean and Amplitude (half the range of the yearly wave) of the air temperature
// shape the first soil profile; where they are missing they are estimated.
type Site struct {
	Latitude   float64                  `json:"latitude"`
	Longitude  float64                  `json:"longitude"`
	ElevationM float64                  `json:"elevation_m"`
	Soil       Soil                     `json:"soil"`
	Mean       unit.Maybe[unit.Celsius] `json:"mean_c,omitzero"`
	Amplitude  unit.Maybe[unit.Kelvins] `json:"amplitude_k,omitzero"`
}

// Check refuses a place that is not on the earth.
func (s *Site) Check() error {
	switch {
	case !(math.Abs(s.Latitude) <= 90):
		return fmt.Errorf("site latitude %v: must be between -90 and 90 degrees", s.Latitude)
	case !(math.Abs(s.Longitude) <= 180):
		return fmt.Errorf("site longitude %v: must be between -180 and 180 degrees", s.Longitude)
	case !(s.ElevationM > -500 && s.ElevationM < 9000):
		return fmt.Errorf("site elevation %v: must be metres above the sea, -500 to 9000", s.ElevationM)
	}
	_, err := ParseSoil(string(s.Soil))
	return err
}

// Yearly mean and wave of the air over mid-latitude land, own default: straight
// lines through the normals of North American stations between 35 and 50 degrees
// (from memory), with the lapse rate of the standard atmosphere (6.5 K/km, ISO
// 2533). West coasts are milder; give Site.Mean and Site.Amplitude there.
const (
	meanAtEquatorC  = 39.0
	meanPerDegree   = -0.70
	wavePerDegree   = 0.31
	lapsePerMetre   = -0.0065
	coldestDayNorth = 20.0 // of the year; half a year later in the south
	yearSeconds     = 365.2425 * 86400
)

// MeanAir is the yearly mean air temperature.
func (s *Site) MeanAir() unit.Celsius {
	return s.Mean.Else(unit.Celsius(meanAtEquatorC + meanPerDegree*math.Abs(s.Latitude) + lapsePerMetre*s.ElevationM))
}

// AirAmplitude is half the range of the yearly wave.
func (s *Site) AirAmplitude() unit.Kelvins {
	return s.Amplitude.Else(unit.Kelvins(wavePerDegree * math.Abs(s.Latitude)))
}

// season is the angle since the coldest day.
func (s *Site) season(at time.Time) float64 {
	u := at.UTC()
	day := float64(u.YearDay()-1) + float64(u.Hour())/24
	if s.Latitude < 0 {
		day += 365.2425 / 2
	}
	return 2 * math.Pi * (day - coldestDayNorth) / 365.2425
}

// yearly is the soil temperature at a depth of a conducting half-space under the
// yearly wave (Carslaw & Jaeger 1959, §2.6).
func (s *Site) yearly(at time.Time, depthM, diffusivity float64) float64 {
	damp := math.Sqrt(diffusivity * yearSeconds / math.Pi)
	z := depthM / damp
	return float64(s.MeanAir()) - float64(s.AirAmplitude())*math.Exp(-z)*math.Cos(s.season(at)-z)
}

// winterShare is how much of the air's frost reaches the ground under the snow
// and dead plants of an ordinary winter, the freezing n-factor: 0.25 to 0.5 under
// snow (Lunardini 1981, Heat Transfer in Cold Climates, from memory).
const winterShare = 0.4

// groundWave is the yearly wave at the surface of the ground.
func (s *Site) groundWave(at time.Time) float64 {
	t := s.yearly(at, 0, 1)
	if t < 0 {
		return winterShare * t
	}
	return t
}
