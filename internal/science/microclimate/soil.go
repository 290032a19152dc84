package microclimate

import (
	"fmt"
	"math"
	"strings"
)

// Soil is a texture class.
type Soil string

// The classes; Loam where nothing is known.
const (
	Sand      Soil = "sand"
	LoamySand Soil = "loamy_sand"
	SandyLoam Soil = "sandy_loam"
	Loam      Soil = "loam"
	SiltLoam  Soil = "silt_loam"
	ClayLoam  Soil = "clay_loam"
	Clay      Soil = "clay"
	Peat      Soil = "peat"
)

// Soils lists every class from coarse to fine, peat last.
func Soils() []Soil {
	return []Soil{Sand, LoamySand, SandyLoam, Loam, SiltLoam, ClayLoam, Clay, Peat}
}

// ParseSoil reads a class; empty is loam.
func ParseSoil(s string) (Soil, error) {
	if s == "" {
		return Loam, nil
	}
	if _, ok := textures[Soil(s)]; !ok {
		return "", fmt.Errorf("soil %q: must be one of %s", s, joined(Soils()))
	}
	return Soil(s), nil
}

func joined[T ~string](keys []T) string {
	words := make([]string, len(keys))
	for i, k := range keys {
		words[i] = string(k)
	}
	return strings.Join(words, ", ")
}

// Texture holds what a class means for heat. Porosity, retention exponent and
// saturated suction are the class means of Cosby et al. 1984 (Water Resour. Res.
// 20:682) and quartz that of Peters-Lidard et al. 1998 (J. Atmos. Sci. 55:1209),
// both as tabulated for the Noah land model (from memory). Peat: Letts et al.
// 2000, Atmosphere-Ocean 38:141, hemic (from memory).
type Texture struct {
	Porosity  float64 // m³/m³
	Quartz    float64 // share of the solids
	Exponent  float64 // b of the Clapp–Hornberger retention curve
	SuctionM  float64 // saturated suction, m of water
	Coarse    bool    // Kersten number of coarse soils
	FieldTenM bool    // field capacity at 1 m suction (sands) instead of 3.4 m
	Organic   bool
}

var textures = map[Soil]Texture{
	Sand:      {Porosity: 0.339, Quartz: 0.92, Exponent: 2.79, SuctionM: 0.069, Coarse: true, FieldTenM: true},
	LoamySand: {Porosity: 0.421, Quartz: 0.82, Exponent: 4.26, SuctionM: 0.036, Coarse: true, FieldTenM: true},
	SandyLoam: {Porosity: 0.434, Quartz: 0.60, Exponent: 4.74, SuctionM: 0.141, Coarse: true},
	Loam:      {Porosity: 0.439, Quartz: 0.40, Exponent: 5.25, SuctionM: 0.355},
	SiltLoam:  {Porosity: 0.476, Quartz: 0.25, Exponent: 5.33, SuctionM: 0.759},
	ClayLoam:  {Porosity: 0.465, Quartz: 0.35, Exponent: 8.17, SuctionM: 0.263},
	Clay:      {Porosity: 0.468, Quartz: 0.25, Exponent: 11.55, SuctionM: 0.468},
	Peat:      {Porosity: 0.88, Exponent: 6.1, SuctionM: 0.0102, FieldTenM: true, Organic: true},
}

// Texture of the class; an unknown class is loam (ParseSoil refuses it before).
func (s Soil) Texture() Texture {
	if t, ok := textures[s]; ok {
		return t
	}
	return textures[Loam]
}

// Suctions of field capacity, m of water: 33 kPa for loams and clays, 10 kPa
// for sands and peat (usual agronomic practice).
const (
	fieldSuctionM     = 3.37
	fieldSuctionSandM = 1.02
)

// FieldCapacity is the volumetric water held after drainage, which is what a
// bed in a humid winter carries: the retention curve at the field suction.
func (t Texture) FieldCapacity() float64 {
	suction := fieldSuctionM
	if t.FieldTenM {
		suction = fieldSuctionSandM
	}
	return t.Porosity * math.Pow(t.SuctionM/suction, 1/t.Exponent)
}

// DryDensity in kg/m³, from a solid density of 2700 (Johansen 1975); peat of 1500.
func (t Texture) DryDensity() float64 {
	if t.Organic {
		return 1500 * (1 - t.Porosity)
	}
	return SolidDensity * (1 - t.Porosity)
}

// FreezingPoint of the soil's water at a volumetric content, °C: the freezing
// curve of Clapp–Hornberger water by the Clausius–Clapeyron relation (Fuchs,
// Campbell & Papendick 1978, Soil Sci. Soc. Am. J. 42:379).
func (t Texture) FreezingPoint(water float64) float64 {
	suction := t.SuctionM * math.Pow(water/t.Porosity, -t.Exponent)
	return -gravity * zeroKelvin * suction / latentJPerKg
}

const (
	gravity      = 9.80665 // m/s² (standard)
	latentJPerKg = 3.336e5 // J/kg, fusion of water
	waterDensity = 1000.0  // kg/m³
	waterHeat    = 4.188e6 // J m⁻³ K⁻¹
	iceHeat      = 2.094e6 // J m⁻³ K⁻¹, per volume of water equivalent
	mineralHeat  = 2.0e6   // J m⁻³ K⁻¹ of solids (Johansen 1975)
	organicHeat  = 2.5e6   // J m⁻³ K⁻¹ of solids (Farouki 1981)
)
