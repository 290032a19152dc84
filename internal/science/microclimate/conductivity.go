package microclimate

import "math"

// Thermal conductivities in W m⁻¹ K⁻¹. Soil after Johansen 1975 (thesis,
// Trondheim) in the form of Peters-Lidard et al. 1998, J. Atmos. Sci. 55:1209,
// as the Noah-MP and CTSM land models use it.

const (
	// SolidDensity of mineral soil, kg/m³ (Johansen 1975).
	SolidDensity = 2700.0

	quartzK       = 7.7
	otherMineralK = 2.0
	iceK          = 2.2
	waterK        = 0.57
	peatSolidK    = 0.25 // Farouki 1981, CRREL Monograph 81-1
	peatDryK      = 0.05 // Farouki 1981
)

// SolidConductivity of mineral grains with a share of quartz.
func SolidConductivity(quartz float64) float64 {
	return math.Pow(quartzK, quartz) * math.Pow(otherMineralK, 1-quartz)
}

// DryConductivity of mineral soil of a porosity.
func DryConductivity(porosity float64) float64 {
	density := SolidDensity * (1 - porosity)
	return (0.135*density + 64.7) / (SolidDensity - 0.947*density)
}

// Kersten is the share of the way from dry to saturated conductivity at a degree
// of saturation 0..1. The coarse form is from memory.
func Kersten(saturation float64, frozen, coarse bool) float64 {
	switch {
	case frozen:
		return saturation
	case coarse:
		return math.Max(0, 0.7*math.Log10(saturation)+1)
	}
	return math.Max(0, math.Log10(saturation)+1)
}

// SnowConductivity from density in kg/m³: Sturm, Holmgren, König & Morris 1997,
// J. Glaciol. 43:26. Snow denser than ice is taken as ice.
func SnowConductivity(density float64) float64 {
	r := math.Min(density, iceDensity) / 1000
	if r <= 0.156 {
		return 0.023 + 0.234*r
	}
	return 0.138 - 1.01*r + 3.233*r*r
}

const iceDensity = 917.0 // kg/m³
