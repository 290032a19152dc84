package microclimate

import (
	"fmt"
	"math"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// What stands in for a missing quantity of an hour, all own defaults: a half
// clouded sky, a light wind, damp air. They give a leaf about 1 K below the air
// at night, the typical depression. A missing air temperature is an error, and a
// missing precipitation is counted in Ground.BlindHours.
const (
	defaultCloud     = 0.5
	defaultWind10MS  = 2.0
	defaultDewDropK  = 3.0
	wind10ToWind2    = 0.75 // logarithmic profile over short grass
	leastWind2MS     = 0.5  // no air stands quite still
	coldestPlausible = -90.0
	hottestPlausible = 65.0
)

// met is an hour of weather with every gap filled, in plain numbers.
type met struct {
	airC, vapourHPa float64
	wind2MS, cloud  float64
	sunWm2          float64 // level surface, open ground
	skyWm2          float64 // long wave from the open sky
	wetBulbC        float64
	precipMM        float64
	precipKnown     bool
	snowM           float64
	snowKnown       bool
}

// Lit gives the hour with the shortwave radiation that its cloud lets through
// where that is missing: the same as Step would take, worked out once for many
// steps of the same hour.
func Lit(site *Site, h weather.Hour) weather.Hour {
	if !h.Shortwave.Known() {
		h.Shortwave = unit.Some(shortwaveOver(h.At, site.Latitude, site.Longitude, h.Cloud.Else(defaultCloud)))
	}
	return h
}

// readHour checks an hour and fills its gaps.
func readHour(site *Site, h *weather.Hour) (met, error) {
	var m met
	air, ok := h.Air.Get()
	if !ok {
		return m, fmt.Errorf("hour %s: air temperature is missing", h.At.UTC().Format(time.RFC3339))
	}
	if err := plausible(h); err != nil {
		return m, fmt.Errorf("hour %s: %w", h.At.UTC().Format(time.RFC3339), err)
	}
	m.airC = float64(air)
	dew := math.Min(m.airC, float64(h.DewPoint.Else(air-defaultDewDropK)))
	m.vapourHPa = satWater(dew)
	m.cloud = h.Cloud.Else(defaultCloud)
	m.wind2MS = math.Max(leastWind2MS, wind10ToWind2*h.Wind.Else(defaultWind10MS))
	m.sunWm2, ok = h.Shortwave.Get()
	if !ok {
		m.sunWm2 = shortwaveOver(h.At, site.Latitude, site.Longitude, m.cloud)
	}
	m.skyWm2 = SkyEmissivity(m.airC, m.vapourHPa, m.cloud) * black(m.airC)
	m.precipMM, m.precipKnown = h.Precip.Get()
	if m.precipMM > 0 {
		m.wetBulbC = float64(WetBulb(air, unit.Celsius(dew)))
	}
	cm, ok := h.SnowDepth.Get()
	m.snowM, m.snowKnown = cm/100, ok
	return m, nil
}

// plausible names the first quantity that is not a possible number.
func plausible(h *weather.Hour) error {
	if err := inRange("air temperature", float64(h.Air.Else(0)), coldestPlausible, hottestPlausible, "°C"); err != nil {
		return err
	}
	if err := inRange("dew point", float64(h.DewPoint.Else(0)), -120, hottestPlausible, "°C"); err != nil {
		return err
	}
	if err := inRange("wind", h.Wind.Else(0), 0, 120, "m/s"); err != nil {
		return err
	}
	if err := inRange("cloud", h.Cloud.Else(0), 0, 1, "as a fraction"); err != nil {
		return err
	}
	if err := inRange("precipitation", h.Precip.Else(0), 0, 500, "mm"); err != nil {
		return err
	}
	if err := inRange("snow depth", h.SnowDepth.Else(0), 0, 3000, "cm"); err != nil {
		return err
	}
	return inRange("shortwave radiation", h.Shortwave.Else(0), 0, 1500, "W/m²")
}

func inRange(name string, v, lo, hi float64, unitName string) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%s %v: must be between %v and %v %s", name, v, lo, hi, unitName)
}
