package weather

import (
	"math"

	"winterstand/internal/unit"
)

// Magnus coefficients over water of Alduchov and Eskridge (1996), J. Appl.
// Meteorol. 35, 601–609: e = 6.1094 hPa · exp(17.625 T / (243.04 °C + T)).
const (
	magnusA    = 17.625
	magnusB    = 243.04 // °C
	magnusEhPa = 6.1094
)

// SaturationPressure is the vapour pressure over water in hPa, −40 to 50 °C
// within 0.4 % (Alduchov and Eskridge 1996).
func SaturationPressure(t unit.Celsius) float64 {
	return magnusEhPa * math.Exp(magnusA*float64(t)/(magnusB+float64(t)))
}

// DewPointOf is the dew point of air with a relative humidity (fraction over
// water). Missing for a humidity that is not above zero; above one counts as
// saturated.
func DewPointOf(air unit.Celsius, humidity float64) unit.Maybe[unit.Celsius] {
	if !air.Finite() || !(humidity > 0) {
		return unit.None[unit.Celsius]()
	}
	gamma := math.Log(min(humidity, 1)) + magnusA*float64(air)/(magnusB+float64(air))
	return unit.Some(unit.Celsius(magnusB * gamma / (magnusA - gamma)))
}

// dewPoints fills missing dew points from humidity and the air it was stated
// with, and keeps each at or below the final air.
func dewPoints(dew, humidity, stated, air []unit.Maybe[float64]) []unit.Maybe[float64] {
	out := make([]unit.Maybe[float64], len(dew))
	for k := range out {
		out[k] = dew[k]
		t, okT := stated[k].Get()
		rh, okH := humidity[k].Get()
		if !out[k].Known() && okT && okH {
			if d, ok := DewPointOf(unit.Celsius(t), rh).Get(); ok {
				out[k] = unit.Some(float64(d))
			}
		}
		if d, ok := out[k].Get(); ok {
			out[k] = unit.Some(min(d, air[k].Else(d)))
		}
	}
	return out
}
