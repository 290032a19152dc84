package fetch

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// scale turns a number with a label into the internal unit: mul·(v+add).
type scale struct{ add, mul float64 }

func (s scale) of(v float64) float64 { return s.mul * (v + s.add) }

// Unit labels as the services write them, by dimension. Factors are exact by
// definition (international foot, inch, nautical mile; ITS-90 offset).
var (
	temperatures = map[string]scale{
		"degC": {0, 1}, "celsius": {0, 1}, "°C": {0, 1}, "C": {0, 1},
		"degF": {-32, 1 / 1.8}, "fahrenheit": {-32, 1 / 1.8}, "°F": {-32, 1 / 1.8}, "F": {-32, 1 / 1.8},
		"K": {-273.15, 1}, "kelvin": {-273.15, 1},
	}
	fractions = map[string]scale{"percent": {0, 0.01}, "%": {0, 0.01}, "1": {0, 1}}
	speeds    = map[string]scale{
		"m_s-1": {0, 1}, "m/s": {0, 1}, "km_h-1": {0, 1 / 3.6}, "km/h": {0, 1 / 3.6},
		"kt": {0, 1852.0 / 3600}, "kn": {0, 1852.0 / 3600}, "mp/h": {0, 1609.344 / 3600}, "mph": {0, 1609.344 / 3600}, "mi_h-1": {0, 1609.344 / 3600},
	}
	millimetres = map[string]scale{"mm": {0, 1}, "cm": {0, 10}, "m": {0, 1000}, "inch": {0, 25.4}, "in": {0, 25.4}, "ft": {0, 304.8}, "kg_m-2": {0, 1}}
	centimetres = map[string]scale{"m": {0, 100}, "cm": {0, 1}, "mm": {0, 0.1}, "inch": {0, 2.54}, "in": {0, 2.54}, "ft": {0, 30.48}}
	fluxes      = map[string]scale{"W/m²": {0, 1}, "W_m-2": {0, 1}, "W/m2": {0, 1}}
)

// measure is how a quantity may be labelled and what values are believed.
// A value up to slack beyond the range is put on its edge.
type measure struct {
	labels     map[string]scale
	low, high  float64
	slack      float64
	everything string // what it is called in a refusal
}

// Ranges: own defaults wide of every surface record on land (−89.2 to 56.7 °C,
// WMO Archive of Weather and Climate Extremes, is narrowed at the cold end to
// where no garden lies).
var measures = map[weather.Quantity]measure{
	weather.Air:       {temperatures, -80, 60, 0, "°C"},
	weather.AirMin:    {temperatures, -80, 60, 0, "°C"},
	weather.AirMax:    {temperatures, -80, 60, 0, "°C"},
	weather.AirP10:    {temperatures, -80, 60, 0, "°C"},
	weather.AirP90:    {temperatures, -80, 60, 0, "°C"},
	weather.DewPoint:  {temperatures, -90, 60, 0, "°C"},
	weather.Humidity:  {fractions, 0, 1, 0.05, "(fraction)"},
	weather.Cloud:     {fractions, 0, 1, 0.05, "(fraction)"},
	weather.Wind:      {speeds, 0, 115, 0.1, "m/s"},
	weather.Precip:    {millimetres, 0, 2000, 0.1, "mm"},
	weather.Snowfall:  {millimetres, 0, 20000, 0.1, "mm"},
	weather.SnowDepth: {centimetres, 0, 2000, 1, "cm"},
	weather.Shortwave: {fluxes, 0, 1500, 10, "W/m²"},
}

// Convert turns a labelled value into a quantity's internal unit. Errors: an
// unknown label, or a value no place on land has.
func Convert(q weather.Quantity, label string, v float64) (float64, error) {
	m, ok := measures[q]
	if !ok {
		return 0, fmt.Errorf("quantity %q: not known", q)
	}
	s, ok := m.labels[label]
	if !ok {
		return 0, UnknownUnit(label, Labels(q)...)
	}
	x := s.of(v)
	if math.IsNaN(x) || x < m.low-m.slack || x > m.high+m.slack {
		return 0, doubtful(weather.BadValue, fmt.Sprintf("%g %s", v, label), "value %g: outside %g to %g %s, the layer is suspect", v, m.low, m.high, m.everything)
	}
	return min(max(x, m.low), m.high), nil
}

// KnownLabel tells whether a quantity may carry a unit label.
func KnownLabel(q weather.Quantity, label string) bool {
	_, ok := measures[q].labels[label]
	return ok
}

// Labels lists the unit labels a quantity may carry.
func Labels(q weather.Quantity) []string {
	var out []string
	for l := range measures[q].labels {
		out = append(out, l)
	}
	slices.Sort(out)
	return out
}

// Number reads a JSON number, a number written as a string, or null.
type Number struct{ unit.Maybe[float64] }

// UnmarshalJSON refuses anything that is not a finite number, "" or null.
func (n *Number) UnmarshalJSON(b []byte) error {
	*n = Number{}
	b = bytes.TrimSpace(b)
	if string(b) == "null" {
		return nil
	}
	text := string(b)
	if len(b) > 0 && b[0] == '"' {
		if err := json.Unmarshal(b, &text); err != nil {
			return err
		}
		if text == "" {
			return nil
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Errorf("%s: not a number", plain(string(b)))
	}
	n.Maybe = unit.Some(v)
	return nil
}
