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
	x := s.exchange(s.airC - t)
	q += x.heat
	dq -= x.slope
	lat, dlat := s.latent(t, &x)
	q -= lat
	dq -= dlat
	if s.melting && t > 0 {
		q -= meltWm2K * t
		dq -= meltWm2K
	}
	return q, dq
}

// exchange with air warmer than the surface by d.
type exchange struct {
	heat, slope float64 // W/m² brought, and its loss for each kelvin the surface warms
	vapour      float64 // W/m²/K; never falls as the surface warms
	vapourSlope float64 // of it, for each kelvin the surface warms
}

func (s *surface) exchange(d float64) exchange {
	if d >= 0 {
		f := 1 + stableSlope*s.stability*d
		k := s.neutral/f + s.windless
		return exchange{k * d, s.neutral/(f*f) + s.windless, k, s.neutral * stableSlope * s.stability / (f * f)}
	}
	ri := -s.stability * d
	root := s.louis * math.Sqrt(ri)
	f := 1 + louisB*ri/(1+root)
	df := louisB * (1 + root/2) / ((1 + root) * (1 + root))
	still := s.windless / (1 - d) // fades as the air begins to turn over
	return exchange{
		heat: (s.neutral*f + still) * d, slope: s.neutral*(f+ri*df) + still/(1-d),
		vapour: s.neutral*f + s.windless, vapourSlope: s.neutral * s.stability * df,
	}
}

// latent is the heat of evaporation (positive) or of dew and frost, W/m², and its slope.
func (s *surface) latent(t float64, x *exchange) (q, slope float64) {
	es, ds := saturation(t)
	c := evaporationHeat(s.airC) * 0.622 / (airHeat * s.pressure)
	if es > s.vapourHPa {
		c *= s.wetness
	}
	return c * x.vapour * (es - s.vapourHPa), c * (x.vapour*ds + math.Max(0, x.vapourSlope*(es-s.vapourHPa)))
}

// alone is the surface temperature where the surface balances a ground of t
// behind a conductance.
func (s *surface) alone(skin, conductance, t float64) float64 {
	for range 20 {
		q, dq := s.flux(skin)
		step := (q - conductance*(skin-t)) / (conductance - dq)
		skin = bounded(skin, step)
		if math.Abs(step) < 1e-6 {
			break
		}
	}
	return skin
}

// saturation vapour pressure over water, below 0 °C over ice, in hPa, and its
// slope per kelvin. The two meet at 0 °C, for an iteration finds no root at a step.
func saturation(t float64) (es, slope float64) {
	a, b := magnusWaterA, magnusWaterB
	if t < 0 {
		a, b = magnusIceA, magnusIceB
	}
	es = magnusWaterHPa * math.Exp(a*t/(b+t))
	return es, es * a * b / ((b + t) * (b + t))
}

// evaporationHeat in J/kg: of water in air above 0 °C, of ice below -2 °C, and
// between them in between, for near 0 °C there is both.
func evaporationHeat(airC float64) float64 {
	ice := math.Max(0, math.Min(1, -airC/2))
	return latentVap + ice*(latentSub-latentVap)
}

// bounded keeps a step of the surface temperature from running away.
func bounded(from, step float64) float64 {
	return from + math.Max(-maxSkinStep, math.Min(maxSkinStep, step))
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
