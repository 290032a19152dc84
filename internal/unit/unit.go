// Package unit holds the quantities every other package speaks in. Inside the
// program everything is SI: degrees Celsius, kelvins for differences, metres
// per second, kilograms, UTC. People see their own units, made here.
package unit

import (
	"fmt"
	"math"
)

// Celsius is a temperature, a point on the scale.
type Celsius float64

// Kelvins is a difference between two temperatures.
type Kelvins float64

// FromFahrenheit converts a temperature in degrees Fahrenheit.
func FromFahrenheit(f float64) Celsius { return Celsius((f - 32) / 1.8) }

// Fahrenheit gives the temperature in degrees Fahrenheit.
func (c Celsius) Fahrenheit() float64 { return float64(c)*1.8 + 32 }

// Plus moves a temperature by a difference.
func (c Celsius) Plus(k Kelvins) Celsius { return c + Celsius(k) }

// Minus is the difference between two temperatures.
func (c Celsius) Minus(o Celsius) Kelvins { return Kelvins(c - o) }

// Finite tells whether the value is a number; NaN compares false with every
// limit and would raise no alarm, so nothing may be built on it.
func (c Celsius) Finite() bool { return !math.IsNaN(float64(c)) && !math.IsInf(float64(c), 0) }

// System is the set of units a reader has chosen.
type System string

// The two systems of the contract.
const (
	US     System = "us"
	Metric System = "metric"
)

// ParseSystem reads "us" or "metric".
func ParseSystem(s string) (System, error) {
	switch System(s) {
	case US, Metric:
		return System(s), nil
	}
	return "", fmt.Errorf("units %q: must be us or metric", s)
}

// Temperature is a temperature with its unit, for pages and mail: "20 °F".
func (s System) Temperature(c Celsius) string { return s.temperature(c, " °") }

// PlainTemperature is the same without a degree sign, which would turn an SMS
// into UCS-2 and halve its length (3GPP TS 23.038): "20F", "-6.7C".
func (s System) PlainTemperature(c Celsius) string { return s.temperature(c, "") }

func (s System) temperature(c Celsius, sep string) string {
	if s == US {
		return fmt.Sprintf("%.0f%sF", noMinusZero(math.Round(c.Fahrenheit())), sep)
	}
	return fmt.Sprintf("%.1f%sC", noMinusZero(math.Round(float64(c)*10)/10), sep)
}

// Difference is a temperature difference with its unit: "1.8 °F" or "1.0 K".
func (s System) Difference(k Kelvins) string {
	if s == US {
		return fmt.Sprintf("%.1f °F", noMinusZero(math.Round(float64(k)*18)/10))
	}
	return fmt.Sprintf("%.1f K", noMinusZero(math.Round(float64(k)*10)/10))
}

// Mass is kilograms in the reader's units: "44 lb" or "20 kg".
func (s System) Mass(kg float64) string {
	if s == US {
		return fmt.Sprintf("%.0f lb", kg/KilogramsPerPound)
	}
	if kg < 10 {
		return fmt.Sprintf("%.1f kg", kg)
	}
	return fmt.Sprintf("%.0f kg", kg)
}

// Depth is a depth of snow, straw or frost given in centimetres: "4 in" or "10 cm".
func (s System) Depth(cm float64) string {
	if s == US {
		return fmt.Sprintf("%.0f in", cm/CentimetresPerInch)
	}
	return fmt.Sprintf("%.0f cm", cm)
}

// Exact by definition (international yard and pound, 1959).
const (
	KilogramsPerPound  = 0.45359237
	CentimetresPerInch = 2.54
)

func noMinusZero(v float64) float64 {
	if v == 0 {
		return 0
	}
	return v
}
