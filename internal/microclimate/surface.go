package microclimate

import "math"

// Exchange of the uppermost surface with air, sky and sun.

const (
	airHeat   = 1005.0  // J/kg/K
	airGas    = 287.05  // J/kg/K
	latentVap = 2.501e6 // J/kg
	latentSub = 2.834e6 // J/kg
	karman    = 0.40
	heightM   = 2.0 // of the air temperature and of the wind used here

	// windlessWm2K is what a surface exchanges with still air. Jordan 1991 (CRREL
	// Special Report 91-16, SNTHERM) uses 2 W/m²/K over snow; without it a calm
	// night would cut the surface off from the air altogether.
	windlessWm2K = 2.0

	// stableSlope bends the exchange in stable air, 1/(1+slope·Ri): the long tail
	// that weather models use instead of a cut-off (Louis 1979, Boundary-Layer
	// Meteorol. 17:187, value from memory).
	stableSlope = 10.0

	// meltWm2K holds a melting surface at 0 °C: so stiff that it stays within
	// hundredths of a degree, the flux being the melt.
	meltWm2K = 2e4
)

// surface is the energy balance of the top of the column for one hour.
type surface struct {
	absorbed   float64 // W/m², short wave and long wave taken in
	emissivity float64
	airC       float64
	vapourHPa  float64
	neutral    float64 // W/m²/K, turbulent exchange in neutral air
	windless   float64 // W/m²/K
	stability  float64 // Richardson number per kelvin of difference
	wetness    float64 // share of free evaporation
	pressure   float64 // hPa
	melting    bool    // snow or ice: cannot be warmer than 0 °C
}

// flux is the heat that goes into the ground at a surface temperature, W/m², and its slope.
func (s *surface) flux(t float64) (q, dq float64) {
	out := s.emissivity * black(t)
	q = s.absorbed - out
	dq = -4 * out / (t + zeroKelvin)
	turbulent, slope := s.turbulent(s.airC - t)
	q += turbulent + s.windless*(s.airC-t)
	dq -= slope + s.windless
	lat, dlat := s.latent(t, turbulent)
	q -= lat
	dq -= dlat
	if s.melting && t > 0 {
		q -= meltWm2K * t
		dq -= meltWm2K
	}
	return q, dq
}

// turbulent is the heat brought by wind for air warmer than the surface by d.
func (s *surface) turbulent(d float64) (q, slope float64) {
	if d > 0 {
		f := 1 + stableSlope*s.stability*d
		return s.neutral * d / f, s.neutral / (f * f)
	}
	f := math.Sqrt(1 - 16*s.stability*d) // Businger et al. 1971, unstable
	return s.neutral * d * f, s.neutral * f
}

// latent is the heat of evaporation (positive) or of dew and frost.
func (s *surface) latent(t, turbulent float64) (q, slope float64) {
	d := s.airC - t
	exchange := s.neutral
	if math.Abs(d) > 1e-9 {
		exchange = turbulent / d
	}
	vap, es, ds := latentVap, 0.0, 0.0
	if t < 0 {
		vap, es = latentSub, satIce(t)
		ds = es * magnusIceA * magnusIceB / ((magnusIceB + t) * (magnusIceB + t))
	} else {
		es = satWater(t)
		ds = es * magnusWaterA * magnusWaterB / ((magnusWaterB + t) * (magnusWaterB + t))
	}
	c := exchange * vap * 0.622 / (airHeat * s.pressure)
	if es > s.vapourHPa {
		c *= s.wetness
	}
	return c * (es - s.vapourHPa), c * ds
}

// bounded keeps a step of the surface temperature from jumping over the melting
// point and from running away.
func (s *surface) bounded(from, to float64) float64 {
	to = math.Max(from-maxSkinStep, math.Min(from+maxSkinStep, to))
	if s.melting {
		return held(from, to, 0)
	}
	return to
}

const maxSkinStep = 15.0 // K an iteration

// exchangeWm2K is the neutral turbulent exchange for a wind at 2 m and a
// roughness length for momentum, that for heat being a tenth (log law).
func exchangeWm2K(windMS, roughM, airC, pressure float64) float64 {
	l := math.Log(heightM / roughM)
	lh := l + math.Ln10
	density := pressure * 100 / (airGas * (airC + zeroKelvin))
	return density * airHeat * karman * karman * windMS / (l * lh)
}

// richardson is the bulk Richardson number at 2 m for each kelvin.
func richardson(windMS, airC float64) float64 {
	return gravity * heightM / ((airC + zeroKelvin) * windMS * windMS)
}

// pressureAt an elevation in the standard atmosphere (ISO 2533), hPa.
func pressureAt(elevationM float64) float64 {
	return standardHPa * math.Pow(1-2.25577e-5*elevationM, 5.25588)
}
