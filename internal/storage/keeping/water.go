package keeping

import (
	"math"

	"winterstand/internal/unit"
)

// Magnus constants over water, Alduchov & Eskridge 1996 (J. Appl. Meteorol. 35:601).
const (
	magnusHPa = 6.1094
	magnusA   = 17.625
	magnusB   = 243.04
)

// VapourDeficit is how much more water vapour the air would hold, in Pa, at a
// humidity given as a fraction.
func VapourDeficit(air unit.Celsius, humidity float64) float64 {
	c := float64(air)
	return 100 * magnusHPa * math.Exp(magnusA*c/(magnusB+c)) * (1 - humidity)
}

// percentPerDay turns kt·VPD, ng/(kg·s), into % of mass a day:
// 1e-12 kg per ng · 86,400 s per day · 100 %.
const percentPerDay = 8.64e-6

// WaterLoss is the loss in % of mass a day of produce with a skin of kt
// ng/(kg·s·Pa) under a vapour pressure deficit in Pa, in a container.
// A closed container leaks in series with the skin: kt·leak/(kt+leak).
func WaterLoss(kt, deficitPa float64, in Container) float64 {
	if in.Closed() {
		kt = kt * in.Leak / (kt + in.Leak)
	}
	return kt * deficitPa * percentPerDay
}

// kt is the skin of a crop, cured or not, and whether it is known.
func (e *Entry) kt(cured bool) (float64, bool) {
	if e.Transpiration == nil {
		return 0, false
	}
	if cured && e.Cure != nil && e.Cure.Kt > 0 {
		return e.Cure.Kt, true
	}
	return e.Transpiration.Kt, true
}
