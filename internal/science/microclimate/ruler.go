package microclimate

import "math"

// readingToleranceM is how far a ruler and a pack may differ before snow is
// added or taken away instead of stretched (Winkler, Schellander & Gruber 2021,
// Hydrol. Earth Syst. Sci. 25:1165 use 2.4 cm).
const readingToleranceM = 0.024

// setDepth makes the pack as deep as a reading says. What the pack was stretched
// by is remembered in LiftedM: while it stays within the tolerance it may be the
// ruler; beyond that it was new snow, or settling and melt.
func (s *Snow) setDepth(readM, airC float64) {
	have := s.DepthM()
	if readM < leastDepthM || s.Layers == 0 && readM < readingToleranceM {
		*s = Snow{}
		return
	}
	s.LiftedM += readM - have
	switch {
	case s.Layers == 0 || readM-s.LiftedM < leastDepthM:
		*s = Snow{}
		s.fresh(readM, airC)
	case s.LiftedM > readingToleranceM:
		fresh := s.LiftedM
		s.stretch((readM - fresh) / have)
		s.fresh(fresh, airC)
	default:
		s.stretch(readM / have)
		if s.LiftedM < -readingToleranceM {
			s.LiftedM = 0
		}
	}
}

// fresh lays new snow of a depth on top.
func (s *Snow) fresh(depthM, airC float64) {
	s.put(depthM*NewSnowDensity(airC), depthM, math.Min(airC, 0))
	s.AgeHours, s.LiftedM = 0, 0
}

// leastDepthM: a reading below it is no snow.
const leastDepthM = 0.005

// stretch scales the depth at the same mass, and takes mass away where the snow
// would become denser than it can be.
func (s *Snow) stretch(factor float64) {
	for i := range s.Layers {
		thick := s.ThickM[i] * factor
		mass := s.IceKgM2[i] + s.WetKgM2[i]
		if most := pressedDensity * thick; mass > most && factor < 1 {
			keep := math.Max(most, mass*factor) / mass
			s.IceKgM2[i] *= keep
			s.WetKgM2[i] *= keep
		}
		if least := freshestDensity * thick; mass < least {
			s.IceKgM2[i] += least - mass
		}
		s.ThickM[i] = thick
	}
}

// pressedDensity is where a falling reading stops meaning settling and starts
// meaning melt, kg/m³ (Winkler et al. 2021: 401).
const pressedDensity = 401.0
