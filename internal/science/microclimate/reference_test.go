package microclimate

import "math"

// Formulas that the model is held against and does not use itself.

// FrostDepth is Stefan's depth of freezing in metres under a layer of thermal
// resistance (Stefan 1891, Ann. Phys. 278:269; with the layer Aldrich & Paynter
// 1953): freezing index in °C·days, conductivity of the frozen soil in W/m/K,
// latent heat in J/m³, resistance in m²K/W. It neglects the soil's own heat, so
// it is a cross-check and not the model.
func FrostDepth(freezingIndex, conductivity, latent, resistance float64) float64 {
	if freezingIndex <= 0 {
		return 0
	}
	drawn := conductivity * resistance
	return math.Sqrt(drawn*drawn+2*conductivity*freezingIndex*86400/latent) - drawn
}

// SoilConductivity of mineral soil wholly unfrozen or wholly frozen (Johansen's
// form, as in Noah-MP and CTSM).
func SoilConductivity(porosity, quartz, saturation float64, frozen, coarse bool) float64 {
	unfrozen := porosity
	if frozen {
		unfrozen = 0
	}
	dry := DryConductivity(porosity)
	wet := math.Pow(SolidConductivity(quartz), 1-porosity) * math.Pow(iceK, porosity-unfrozen) * math.Pow(waterK, unfrozen)
	return dry + Kersten(saturation, frozen, coarse)*(wet-dry)
}

// LeafDepression is the plain rule for how far a leaf in the open is below the
// air on a night, K: 3 K under a clear sky in still air, less with cloud
// (fraction) and wind (m/s at 2 m). The 3 K is the upper end of what Leuning &
// Cremer 1988 (Agric. For. Meteorol. 42:121) measured.
func LeafDepression(cloud, wind2MS float64) float64 {
	return 3 * (1 - cloud) * math.Max(0, 1-wind2MS/3)
}
