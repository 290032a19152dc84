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

	// windlessWm2K is what a surface colder than the air exchanges with it in a
	// calm. Jordan 1991 (CRREL Special Report 91-16, SNTHERM) uses 2 W/m²/K over
	// snow; without it a calm night would cut the surface off from the air.
	windlessWm2K = 2.0

	// Stability after Louis 1979, Boundary-Layer Meteorol. 17:187 (from memory):
	// in stable air the long tail 1/(1+10·Ri) of weather models, in unstable air
	// his form for heat, which tends to free convection as wind dies.
	stableSlope = 10.0
	louisB      = 9.4
	louisC      = 5.3

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
	windless   float64 // W/m²/K, towards a colder surface
	louis      float64 // denominator's factor in unstable air
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
	q += turbulent
	dq -= slope
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
		return s.neutral*d/f + s.windless*d, s.neutral/(f*f) + s.windless
	}
	ri := -s.stability * d
	f := 1 + louisB*ri/(1+s.louis*math.Sqrt(ri))
	return s.neutral * d * f, s.neutral * f
}

// latent is the heat of evaporation (positive) or of dew and frost.
func (s *surface) latent(t, turbulent float64) (q, slope float64) {
	d := s.airC - t
	exchange := s.neutral
	if math.Abs(d) > 1e-6 {
		exchange = turbulent / d
	}
	es, ds, vap := saturation(t)
	c := exchange * vap * 0.622 / (airHeat * s.pressure)
	if es > s.vapourHPa {
		c *= s.wetness
	}
	return c * (es - s.vapourHPa), c * ds
}

// saturation vapour pressure over ice or water in hPa, its slope per kelvin, and
// the heat of sublimation or evaporation in J/kg.
func saturation(t float64) (es, slope, heat float64) {
	if t < 0 {
		es = satIce(t)
		return es, es * magnusIceA * magnusIceB / ((magnusIceB + t) * (magnusIceB + t)), latentSub
	}
	es = satWater(t)
	return es, es * magnusWaterA * magnusWaterB / ((magnusWaterB + t) * (magnusWaterB + t)), latentVap
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

// louisFactor is the factor of √Ri in unstable air for a roughness length.
func louisFactor(roughM float64) float64 {
	a := karman / math.Log(heightM/roughM)
	return louisC * louisB * a * a * math.Sqrt(heightM/roughM)
}

// richardson is the bulk Richardson number at 2 m for each kelvin.
func richardson(windMS, airC float64) float64 {
	return gravity * heightM / ((airC + zeroKelvin) * windMS * windMS)
}

// pressureAt an elevation in the standard atmosphere (ISO 2533), hPa.
func pressureAt(elevationM float64) float64 {
	return standardHPa * math.Pow(1-2.25577e-5*elevationM, 5.25588)
}
