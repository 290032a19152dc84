package microclimate

import (
	"math"

	"winterstand/internal/unit"
)

// SnowCm is the depth of snow on the bed.
func (g *Ground) SnowCm() float64 { return 100 * g.Snow.DepthM() }

// SoilAt is the soil temperature at a depth in cm, straight between the middles
// of the layers; 0 is the soil surface under whatever lies on it, where crowns are.
func (g *Ground) SoilAt(cm float64) unit.Celsius {
	m, above, tAbove := cm/100, 0.0, g.SurfaceC
	for i, middle := range soilMiddle {
		if m <= middle {
			return unit.Celsius(tAbove + (g.SoilC[i]-tAbove)*(m-above)/(middle-above))
		}
		above, tAbove = middle, g.SoilC[i]
	}
	return unit.Celsius(tAbove)
}

// frozenShare is the share of ice in the soil water from which a layer counts as
// wholly frozen to a fork (own default: a third of the water binds the grains).
const frozenShare = 1.0 / 3

// crustFromM: frost that begins deeper than this does not stop a fork.
const crustFromM = 0.30

// FrozenCm is the thickness of the frozen crust: the uppermost frozen stretch,
// even when mud has thawed above it, from where it begins down to where it ends.
func (g *Ground) FrozenCm() float64 {
	e, crust, top := earthOf(soilOrder[g.Soil]), 0.0, 0.0
	for i, t := range g.SoilC {
		share := math.Min(1, (1-e.unfrozen(t))/frozenShare)
		if share == 0 && (crust > 0 || top > crustFromM) {
			break
		}
		crust += share * soilThick[i]
		top += soilThick[i]
	}
	return 100 * crust
}

// Diggable tells whether a fork still breaks through: the crust is thinner than
// a limit in cm, about 3 for a fork.
func (g *Ground) Diggable(limitCm float64) bool { return g.FrozenCm() < limitCm }
