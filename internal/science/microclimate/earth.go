package microclimate

import "math"

// SoilLayers is the number of soil layers; they thicken downward from 1 cm to
// about 1.6 m and end at ColumnM.
const (
	SoilLayers = 24
	ColumnM    = 8.0
	firstM     = 0.01
)

// The layers' thickness and the depth of their middles, m.
var soilThick, soilMiddle = grid()

func grid() (thick, middle [SoilLayers]float64) {
	lo, hi := 1.0, 2.0
	for range 80 {
		mid := (lo + hi) / 2
		if firstM*(math.Pow(mid, SoilLayers)-1)/(mid-1) < ColumnM {
			lo = mid
		} else {
			hi = mid
		}
	}
	top := 0.0
	for i := range thick {
		thick[i] = firstM * math.Pow(hi, float64(i))
		middle[i] = top + thick[i]/2
		top += thick[i]
	}
	return thick, middle
}

// earth is a soil class at field capacity, ready for the column.
type earth struct {
	medium
	dry, solid float64 // W/m/K; solid already raised to 1-porosity
	porosity   float64
	kersten    float64 // unfrozen
	saturation float64 // which is also the frozen Kersten number
}

// profile is the soil under a surface: mineral soil, under trees with humus on top.
type profile struct {
	mineral earth
	humusM  float64
}

var (
	fieldProfiles  = preparedProfiles(0, 0)
	forestProfiles = preparedProfiles(forestPorosity, humusM)
)

// Forest soil: 7 cm of humus over mineral soil of bulk density near 1.1, that is
// 0.60 porosity, whatever the texture: New England Spodosols of Federer 1984
// (Can. J. For. Res. 14:553) and Huntington et al. 1989 (Soil Sci. 148:380), both
// from memory. Depths count from the top of the humus, the loose leaves lie above.
const (
	forestPorosity = 0.60
	humusM         = 0.07
	humusWater     = 0.30 // m³/m³, freely drained
)

var humus = newEarth(textures[Peat], humusWater)

func preparedProfiles(porosity, humusM float64) map[Soil]*profile {
	all := make(map[Soil]*profile, len(textures))
	for key, t := range textures {
		if porosity > t.Porosity {
			t.Porosity = porosity
		}
		all[key] = &profile{mineral: newEarth(t, t.FieldCapacity()), humusM: humusM}
	}
	return all
}

// profileOf an unknown class is loam's (Site.Check refuses it before).
func profileOf(s Surface, soil Soil) *profile {
	from := fieldProfiles
	if s == Litter {
		from = forestProfiles
	}
	if p, ok := from[soil]; ok {
		return p
	}
	return from[Loam]
}

func earthOf(soil Soil) *earth { return &profileOf(Bare, soil).mineral }

func newEarth(t Texture, water float64) earth {
	solidHeat, solid, dry := mineralHeat, SolidConductivity(t.Quartz), DryConductivity(t.Porosity)
	if t.Organic {
		solidHeat, solid, dry = organicHeat, peatSolidK, peatDryK
	}
	grains := solidHeat * (1 - t.Porosity)
	sr := water / t.Porosity
	return earth{
		medium: medium{
			thawed: grains + waterHeat*water, frozen: grains + iceHeat*water,
			latent: LatentHeat(water), point: t.FreezingPoint(water), power: 1 / t.Exponent,
		},
		dry: dry, solid: math.Pow(solid, 1-t.Porosity), porosity: t.Porosity,
		kersten: Kersten(sr, false, t.Coarse), saturation: sr,
	}
}

// conductivity where a share of the water is liquid: the saturated value by the
// geometric mean, the Kersten number between its two forms.
func (e *earth) conductivity(liquid float64) float64 {
	ke := liquid*e.kersten + (1-liquid)*e.saturation
	wet := e.solid * math.Exp(e.porosity*(logIceK-liquid*(logIceK-logWaterK)))
	return e.dry + ke*(wet-e.dry)
}

var (
	logIceK   = math.Log(iceK)
	logWaterK = math.Log(waterK)
)

// diffusivity of the thawed soil, m²/s.
func (e *earth) diffusivity() float64 { return e.conductivity(1) / e.thawed }
