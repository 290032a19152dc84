package microclimate

import (
	"math"

	"winterstand/internal/unit"
)

// Magnus constants over water and over ice: Alduchov & Eskridge 1996, J. Appl.
// Meteor. 35:601, eqs. 21 and 23. The leading 6.1094 hPa and 6.1121 hPa are theirs.
const (
	magnusWaterHPa = 6.1094
	magnusWaterA   = 17.625
	magnusWaterB   = 243.04
	magnusIceHPa   = 6.1121
	magnusIceA     = 22.587
	magnusIceB     = 273.86
)

// DewPoint from air temperature and relative humidity (fraction 0..1 over
// water). A humidity at or below zero has no dew point and gives NaN.
func DewPoint(air unit.Celsius, humidity float64) unit.Celsius {
	if !(humidity > 0) {
		return unit.Celsius(math.NaN())
	}
	g := math.Log(humidity) + magnusWaterA*float64(air)/(magnusWaterB+float64(air))
	return unit.Celsius(magnusWaterB * g / (magnusWaterA - g))
}

// psychrometer is the coefficient of a ventilated psychrometer with a wet (not
// iced) bulb, 1/K: WMO-No. 8, annex 4.B.
const psychrometer = 6.53e-4

// standardHPa is the pressure of the standard atmosphere at sea level, hPa (ISO 2533).
const standardHPa = 1013.25

// WetBulb is the temperature of a ventilated wet bulb at sea-level pressure.
func WetBulb(air, dew unit.Celsius) unit.Celsius {
	lo, hi := float64(dew), float64(air)
	if !(lo < hi) {
		return air
	}
	e := satWater(lo)
	for range 60 {
		mid := (lo + hi) / 2
		a := psychrometer * (1 + 0.000944*mid) * standardHPa
		if satWater(mid)-a*(float64(air)-mid) > e {
			hi = mid
		} else {
			lo = mid
		}
	}
	return unit.Celsius((lo + hi) / 2)
}

// Limits of the wind chill formula: NWS/Environment Canada 2001 defines it at or
// below 50 °F and above 3 mph.
const (
	windChillMaxAir  = 10.0
	windChillMinWind = 3 * 0.44704 // m/s
)

// WindChill is the wind chill temperature of people outdoors (Osczevski &
// Bluestein 2005, Bull. Amer. Meteor. Soc. 86:1453; metric form of Environment
// Canada). Wind at 10 m in m/s. Where it is not defined it is the air temperature.
func WindChill(air unit.Celsius, windMS float64) unit.Celsius {
	t := float64(air)
	if t > windChillMaxAir || !(windMS > windChillMinWind) {
		return air
	}
	v := math.Pow(windMS*3.6, 0.16)
	return unit.Celsius(13.12 + 0.6215*t - 11.37*v + 0.3965*t*v)
}

func satWater(t float64) float64 {
	return magnusWaterHPa * math.Exp(magnusWaterA*t/(magnusWaterB+t))
}
