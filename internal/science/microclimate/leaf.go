package microclimate

import (
	"fmt"
	"math"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Leaf properties, own defaults in the usual range (Campbell & Norman 1998, An
// Introduction to Environmental Biophysics, ch. 7, 11 and 14): a leaf 8 cm wide
// in a low stand, wind in it half of that at 2 m and never still; a third of the
// light that meets it becomes heat in leaves that shade each other.
const (
	leafWidthM     = 0.08
	leafWindShare  = 0.5
	leafLeastMS    = 0.4
	leafEmissivity = 0.97
	leafAbsorbs    = 0.35 // of global radiation
	leafWet        = 0.15 // share of free evaporation by day: stomata in the cold
	molarHeat      = 29.3 // J/mol/K
	outdoors       = 1.4  // turbulence against a wind tunnel
	forcedHeat     = 0.135
	vapourToHeat   = 1.09  // conductance of vapour to that of heat
	waterMolarKg   = 0.018 // kg/mol
)

// leaf is the energy balance of a leaf in the open: the sky above it, leaves at
// air temperature below, forced convection on both sides, dew and frost.
type leaf struct {
	airC, vapourHPa, pressure float64
	absorbed                  float64 // W/m²
	conductance               float64 // mol m⁻² s⁻¹, both sides
	opens                     float64 // share of free evaporation
}

func leafIn(m *met, pressure float64) leaf {
	wind := math.Max(leafLeastMS, leafWindShare*m.wind2MS)
	l := leaf{
		airC: m.airC, vapourHPa: m.vapourHPa, pressure: pressure,
		absorbed:    leafAbsorbs*m.sunWm2 + leafEmissivity*(m.skyWm2+black(m.airC)),
		conductance: 2 * outdoors * forcedHeat * math.Sqrt(wind/leafWidthM),
	}
	if m.sunWm2 > 0 {
		l.opens = leafWet
	}
	return l
}

// temperature where gain and loss meet, by Newton's iteration.
func (l *leaf) temperature() float64 {
	t := l.airC
	for range 30 {
		q, dq := l.gain(t)
		step := -q / dq
		t += step
		if math.Abs(step) < 1e-6 {
			break
		}
	}
	return t
}

// gain of heat at a leaf temperature, W/m², and its slope.
func (l *leaf) gain(t float64) (q, slope float64) {
	out := 2 * leafEmissivity * black(t)
	q = l.absorbed - out - molarHeat*l.conductance*(t-l.airC)
	slope = -4*out/(t+zeroKelvin) - molarHeat*l.conductance
	es, ds := saturation(t)
	c := vapourToHeat * l.conductance / l.pressure * waterMolarKg * evaporationHeat(l.airC)
	if es > l.vapourHPa {
		c *= l.opens
	}
	return q - c*(es-l.vapourHPa), slope - c*ds
}

// Leaf is the temperature of the leaves of a crop heightCm tall in an hour that
// the ground has just been stepped through: the open leaf, plus what a cover
// gives, and for the part that stands in snow the temperature of the snow
// between its surface and its base. Straw lies between plants and does not warm
// their leaves. Errors as Step.
func (g *Ground) Leaf(site *Site, on Dressing, h weather.Hour, heightCm float64) (unit.Celsius, error) {
	if err := on.Check(); err != nil {
		return 0, err
	}
	if !(heightCm >= 0) {
		return 0, fmt.Errorf("height %v cm: must not be negative", heightCm)
	}
	m, err := readHour(site, &h)
	if err != nil {
		return 0, err
	}
	c := on.Cover.Shelter()
	l := leafIn(&m, pressureAt(site.ElevationM))
	open := l.temperature()
	if m.sunWm2 > 0 && c.DayGain > 0 { // the warming under a cover is already that of its leaves
		open = math.Min(open, m.airC)
	}
	open += c.gainAt(on.Draw, m.airC, m.wind2MS, m.sunWm2)
	return unit.Celsius(g.inSnow(open, heightCm, m.sunWm2)), nil
}

// inSnow mixes the exposed and the buried part of a crop by their heights. Without
// sun the leaves at the surface of the snow are no colder than those above it;
// from fullSunWm2 on they are as cold as the snow.
func (g *Ground) inSnow(exposed, heightCm, sunWm2 float64) float64 {
	snow, skin := g.SnowCm(), g.SkinC
	if snow <= 0 {
		return exposed
	}
	dark := math.Max(0, 1-sunWm2/fullSunWm2)
	skin += dark * math.Max(0, exposed-skin)
	if snow >= heightCm {
		return g.BaseC + (skin-g.BaseC)*heightCm/2/snow
	}
	share := snow / heightCm
	return share*(g.BaseC+skin)/2 + (1-share)*exposed
}

const fullSunWm2 = 100.0 // own default

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
