package microclimate

import (
	"fmt"
	"math"
)

// Surface is what the ground wears by nature. A bed is bare, or under the leaves
// of its crop; grass and litter are how weather stations stand.
type Surface string

// The surfaces.
const (
	Bare   Surface = "bare"
	Stand  Surface = "stand" // bare soil between and under the leaves of a standing crop
	Grass  Surface = "grass"
	Litter Surface = "litter" // forest floor under trees
)

// Dressing is what lies over the ground in an hour. Its zero value is bare
// ground without a cover.
type Dressing struct {
	Cover   Cover   `json:"cover"`
	Draw    float64 `json:"draw"`     // standard normal draw of the cover's gain; 0 is the typical gain
	MulchCm float64 `json:"mulch_cm"` // straw as it was laid; it settles to half by itself
	Surface Surface `json:"surface"`
}

// Check refuses what cannot lie over a bed.
func (d *Dressing) Check() error {
	if _, err := ParseCover(string(d.Cover)); err != nil {
		return err
	}
	if _, ok := faces[d.face()]; !ok {
		return fmt.Errorf("surface %q: must be bare, stand, grass or litter", d.Surface)
	}
	if !(d.MulchCm >= 0 && d.MulchCm <= maxMulchCm) {
		return fmt.Errorf("mulch %v cm: must be between 0 and %d cm", d.MulchCm, int(maxMulchCm))
	}
	if math.IsNaN(d.Draw) || math.IsInf(d.Draw, 0) {
		return fmt.Errorf("cover draw %v: must be a number", d.Draw)
	}
	return nil
}

const maxMulchCm = 200.0

func (d *Dressing) face() Surface {
	if d.Surface == "" {
		return Bare
	}
	return d.Surface
}

// face is how a surface meets air, sun and sky.
type face struct {
	albedo, emissivity float64
	roughM             float64
	wetness            float64 // share of free evaporation
	sky, sun, wind     float64 // shares that reach it through what stands above
	mat                mat
}

// mat is a layer of plant matter on the ground.
type mat struct {
	thickM float64
	k      float64 // W/m/K
	medium medium
}

// Albedo and emissivity: Oke 1987, Boundary Layer Climates, table 1.1.
// Roughness: Oke 1987, table 2.2. Between the leaves of a crop four tenths of sky,
// sun and wind reach the soil (own default: a leaf area near 1). Under trees a fifth of the sky, a tenth of the
// sun and a quarter of the wind arrive (own default between leafless hardwood and
// closed conifers). Mats: see below.
var faces = map[Surface]face{
	Bare:   {albedo: 0.17, emissivity: 0.96, roughM: 0.005, wetness: 0.5, sky: 1, sun: 1, wind: 1},
	Stand:  {albedo: 0.17, emissivity: 0.96, roughM: 0.005, wetness: 0.5, sky: 0.4, sun: 0.4, wind: 0.4},
	Grass:  {albedo: 0.22, emissivity: 0.97, roughM: 0.02, wetness: 0.3, sky: 1, sun: 1, wind: 1, mat: thatch},
	Litter: {albedo: 0.15, emissivity: 0.97, roughM: 0.02, wetness: 0.2, sky: 0.2, sun: 0.1, wind: 0.25, mat: leafLitter},
}

// Plant matter by the mixing of Farouki 1981 as in Lawrence & Slater 2008 (Clim.
// Dyn. 30:145): dry 0.05 W/m/K, solids 0.25 W/m/K and 2.5e6 J m⁻³ K⁻¹.
var (
	thatch     = plantMat(0.03, 0.92, 0.15) // dead grass of a mown or pressed sward
	leafLitter = plantMat(0.04, 0.90, 0.13) // loose leaves and needles
)

// plantMat of a thickness in m, porosity and volumetric water.
func plantMat(thickM, porosity, water float64) mat {
	sr := water / porosity
	wet := math.Pow(peatSolidK, 1-porosity) * math.Pow(waterK, porosity)
	grains := organicHeat * (1 - porosity)
	return mat{
		thickM: thickM,
		k:      peatDryK + Kersten(sr, false, false)*(wet-peatDryK),
		medium: medium{
			thawed: grains + waterHeat*water, frozen: grains + iceHeat*water,
			latent: LatentHeat(water), point: matPointC, power: matPower,
		},
	}
}

// Water in plant matter freezes close to 0 °C.
const (
	matPointC = -0.02
	matPower  = 0.5
)

// Straw: conductivity between dry 0.06 and damp 0.10 W/m/K, taken damp, as it is
// in a wet autumn; it settles to half with a time constant of three weeks (own
// defaults). Heat capacity of 40 kg/m³ of straw and some water.
const (
	strawK          = 0.10
	strawHeat       = 1.2e5 // J m⁻³ K⁻¹
	strawSettled    = 0.5
	strawHours      = 21 * 24.0
	strawAlbedo     = 0.30
	strawEmissivity = 0.96
	strawRoughM     = 0.01
	strawWetness    = 0.2
	strawMasksCm    = 3.0 // a thinner layer lets the soil through
)

// settledM is the depth in metres of straw laid so many hours ago.
func settledM(laidCm, hours float64) float64 {
	return laidCm / 100 * (strawSettled + (1-strawSettled)*math.Exp(-hours/strawHours))
}
