package microclimate

// LatentHeat of freezing all water of a soil, J/m³, from its volumetric content.
func LatentHeat(water float64) float64 { return latentJPerKg * waterDensity * water }
