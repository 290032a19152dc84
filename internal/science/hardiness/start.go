package hardiness

import (
	"math"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// The yearly course of air that stands in where nothing is known, all own
// defaults for a continental place of middle latitude, fitted by eye to normals
// remembered for the Great Lakes and New England: mean 36 − 0.64·|latitude| °C,
// half range 0.3·|latitude| K, warmest on about 20 July in the north, days
// swinging 5 K about their mean.
const (
	yearMeanAtEquator = 36.0
	yearMeanPerDegree = 0.64
	yearSwingPerDeg   = 0.3
	warmestDay        = 201
	daySwing          = 5.0
	yearDays          = 365.25
	// A guess must not count on hardiness that is not there, so the year is
	// taken warmer than its normal.
	cautiousWarmth = 2.0
	marchDays      = 90
)

// leastSpread is the uncertainty of a guessed tolerance even for a crop that
// cannot harden, K. Own default.
const leastSpread = 1.5

// DefaultStart is the tolerance to begin with at a place and day of the year
// (1–366) when there is no history: where 90 days of the place's normal year,
// taken 2 K warm, lead from unhardened. The spread (σ, K) is half of what was
// gained and at least 1.5 K; it is meant to be used until two weeks of real
// hours are known. All own default.
func DefaultStart(h crop.Hardening, latitude float64, dayOfYear int) (unit.Celsius, unit.Kelvins) {
	lt50 := h.Unhardened
	for d := dayOfYear - marchDays; d < dayOfYear; d++ {
		lt50 = march(h, lt50, normalMean(latitude, d)+cautiousWarmth)
	}
	return guess(h, lt50)
}

func guess(h crop.Hardening, lt50 unit.Celsius) (unit.Celsius, unit.Kelvins) {
	return lt50, max(leastSpread, h.Unhardened.Minus(lt50)/2)
}

// march is one sinusoidal day without injury.
func march(h crop.Hardening, lt50 unit.Celsius, mean float64) unit.Celsius {
	for hour := range 24 {
		t := mean + daySwing*math.Sin(2*math.Pi*float64(hour)/24)
		lt50 = within(h, lt50+harden(h, lt50, unit.Celsius(t)))
	}
	return lt50
}

// normalMean is the mean air of a day of the year, °C.
func normalMean(latitude float64, day int) float64 {
	north := math.Abs(latitude)
	warmest := float64(warmestDay)
	if latitude < 0 {
		warmest += yearDays / 2
	}
	season := math.Cos(2 * math.Pi * (float64(day) - warmest) / yearDays)
	return yearMeanAtEquator - yearMeanPerDegree*north + yearSwingPerDeg*north*season
}
