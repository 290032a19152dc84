package microclimate

import (
	"math"
	"time"
)

// StefanBoltzmann in W m⁻² K⁻⁴ (CODATA 2018).
const StefanBoltzmann = 5.670374419e-8

const zeroKelvin = 273.15

// ClearSkyShortwave is the global radiation on a level surface under a
// cloudless sky, W/m², from the sine of the sun's elevation: Haurwitz 1945,
// J. Meteor. 2:154 (constants 1098 W/m² and 0.057, as restated by Reno,
// Hansen & Stein 2012, SAND2012-2389).
func ClearSkyShortwave(sinElevation float64) float64 {
	if sinElevation <= 0 {
		return 0
	}
	return 1098 * sinElevation * math.Exp(-0.057/sinElevation)
}

// CloudTransmission is the share of clear-sky radiation that passes a cloud
// cover (fraction 0..1): Kasten & Czeplak 1980, Solar Energy 24:177.
func CloudTransmission(cloud float64) float64 {
	return 1 - 0.75*math.Pow(cloud, 3.4)
}

// SkyEmissivity of the whole sky: the clear part after Prata 1996, Q. J. R.
// Meteorol. Soc. 122:1127, clouds after Unsworth & Monteith 1975, Q. J. R.
// Meteorol. Soc. 101:13 (0.84 of the way to a black sky at full cover).
// Air temperature in °C, vapour pressure in hPa, cloud a fraction.
func SkyEmissivity(airC, vapourHPa, cloud float64) float64 {
	w := 46.5 * vapourHPa / (airC + zeroKelvin)
	clear := 1 - (1+w)*math.Exp(-math.Sqrt(1.2+3*w))
	return clear + (1-clear)*0.84*cloud
}

// shortwaveOver is the clear-sky or clouded radiation averaged over the hour
// from t, by three Gauss points so that sunrise falls inside an hour smoothly.
func shortwaveOver(t time.Time, latitude, longitude, cloud float64) float64 {
	s := solarAt(t.Add(30 * time.Minute))
	sum := 0.0
	for i, at := range gaussMinutes {
		sum += gaussWeights[i] * ClearSkyShortwave(sinElevation(s, t.Add(minutesOf(at)), latitude, longitude))
	}
	if sum == 0 {
		return 0
	}
	return sum * CloudTransmission(cloud)
}

// Three-point Gauss–Legendre on one hour.
var (
	gaussMinutes = [3]float64{6.762, 30, 53.238}
	gaussWeights = [3]float64{5.0 / 18, 8.0 / 18, 5.0 / 18}
)

func black(tC float64) float64 {
	k := tC + zeroKelvin
	k *= k
	return StefanBoltzmann * k * k
}
