package microclimate

import (
	"math"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// LeafDepression is the plain rule for how far a leaf in the open is below the
// air on a night: 3 K under a clear sky in still air, less with cloud (fraction)
// and wind (m/s at 2 m). The 3 K is the upper end of what Leuning & Cremer 1988
// (Agric. For. Meteorol. 42:121) measured. The model uses the energy balance in
// openLeaf, which also answers by day, in dew and under a known humidity; this
// rule is its cross-check.
func LeafDepression(cloud, wind2MS float64) unit.Kelvins {
	return unit.Kelvins(3 * (1 - cloud) * math.Max(0, 1-wind2MS/3))
}

// Leaf properties, own defaults in the usual range (Campbell & Norman 1998, An
// Introduction to Environmental Biophysics, ch. 7, 11 and 14): a leaf 8 cm wide
// in a low stand, wind in it half of that at 2 m and never still; a third of the
// light that meets it becomes heat in leaves that shade each other.
const (
	leafWidthM     = 0.08
	leafWindShare  = 0.5
	leafLeastMS    = 0.4
	leafEmissivity = 0.97
	leafAbsorbs    = 0.35 // of global radiation, both sides, leaves that shade each other
	leafWet        = 0.15 // share of free evaporation by day: stomata in the cold
	molarHeat      = 29.3 // J/mol/K
	outdoors       = 1.4  // turbulence against a wind tunnel (Campbell & Norman 1998)
)

// openLeaf is the temperature of a leaf in the open that sees the sky above and
// a ground of a given surface temperature below, by its energy balance: long and
// short wave, forced or free convection on both sides, dew and frost.
func openLeaf(m *met, groundC, pressure float64) float64 {
	wind := math.Max(leafLeastMS, leafWindShare*m.wind2MS)
	forced := outdoors * 0.135 * math.Sqrt(wind/leafWidthM) // mol m⁻² s⁻¹ a side
	absorbed := leafAbsorbs*m.sunWm2 + leafEmissivity*(m.skyWm2+black(groundC))
	lo, hi := m.airC-15, m.airC+25
	for range 40 {
		t := (lo + hi) / 2
		out := 2*leafEmissivity*black(t) + 2*molarHeat*forced*(t-m.airC) + leafLatent(m, t, forced, pressure)
		if out > absorbed {
			hi = t
		} else {
			lo = t
		}
	}
	return (lo + hi) / 2
}

// leafLatent is evaporation or dew, W/m².
func leafLatent(m *met, t, forced, pressure float64) float64 {
	es, heat := satWater(t), latentVap
	if t < 0 {
		es, heat = satIce(t), latentSub
	}
	flow := 2 * 1.09 * forced * (es - m.vapourHPa) / pressure * 0.018 * heat
	if flow > 0 {
		if m.sunWm2 <= 0 {
			return 0
		}
		return leafWet * flow
	}
	return flow
}

// Leaf is the temperature of the leaves of a crop heightCm tall in an hour that
// the ground has just been stepped through: the open leaf, plus what a cover
// gives, and for the part that stands in snow the temperature of the snow
// between its surface and the soil's. Errors as Step.
func (g *Ground) Leaf(site *Site, on Dressing, h weather.Hour, heightCm float64) (unit.Celsius, error) {
	if err := on.Check(); err != nil {
		return 0, err
	}
	m, err := readHour(site, &h)
	if err != nil {
		return 0, err
	}
	c := on.Cover.Shelter()
	gain := c.gainAt(on.Draw, m.airC, m.wind2MS, m.sunWm2)
	ground := math.Max(g.SkinC-gain, m.airC-groundBelowAirK)
	open := openLeaf(&m, math.Min(ground, m.airC+groundBelowAirK), pressureAt(site.ElevationM))
	if m.sunWm2 > 0 && c.DayGain > 0 { // the warming under a cover is already that of its leaves
		open = math.Min(open, m.airC)
	}
	return unit.Celsius(g.inSnow(open+gain, heightCm)), nil
}

// groundBelowAirK bounds how far the ground that a leaf sees departs from the
// air: within a stand most of what it sees are other leaves (own default).
const groundBelowAirK = 2.0

// inSnow mixes the exposed and the buried part of a crop by their heights.
func (g *Ground) inSnow(exposed, heightCm float64) float64 {
	snow := g.SnowCm()
	if snow <= 0 {
		return exposed
	}
	if heightCm <= 0 {
		return g.SurfaceC
	}
	if snow >= heightCm {
		return g.SurfaceC + (g.SkinC-g.SurfaceC)*heightCm/2/snow
	}
	share := snow / heightCm
	return share*(g.SurfaceC+g.SkinC)/2 + (1-share)*exposed
}

// Crown is the temperature of the crown at the soil surface, under snow, straw
// and litter.
func (g *Ground) Crown() unit.Celsius { return unit.Celsius(g.SurfaceC) }

// Shoulder is the mean soil temperature from the surface down to a depth in cm:
// the top of a root that stands flush with the ground.
func (g *Ground) Shoulder(cm float64) unit.Celsius {
	const parts = 4
	sum := 0.0
	for i := range parts {
		sum += float64(g.SoilAt(cm * (float64(i) + 0.5) / parts))
	}
	return unit.Celsius(sum / parts)
}
