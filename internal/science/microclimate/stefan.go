package microclimate

import "math"

// LatentHeat of freezing all water of a soil, J/m³, from its volumetric content.
func LatentHeat(water float64) float64 { return latentJPerKg * waterDensity * water }

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
