package microclimate

import "math"

// SnowLayers is the greatest number of layers of a pack.
const SnowLayers = 5

// Snow is a pack in layers, top first; a plain value.
type Snow struct {
	Layers   int32               `json:"layers"`
	IceKgM2  [SnowLayers]float64 `json:"ice_kg_m2"`
	WetKgM2  [SnowLayers]float64 `json:"wet_kg_m2"` // liquid water held
	ThickM   [SnowLayers]float64 `json:"thick_m"`
	TempC    [SnowLayers]float64 `json:"temp_c"`
	AgeHours float64             `json:"age_hours"` // since the last fresh snow
	LiftedM  float64             `json:"lifted_m"`  // how far readings have stretched it beyond its own settling
}

const (
	iceSpecificHeat = 2100.0 // J/kg/K
	thinSnowM       = 0.02   // a layer thinner than this takes up new snow
	leastSnowKgM2   = 0.01   // less than this is no snow
	holdsWater      = 0.05   // kg liquid per kg ice before it drains (SNTHERM uses 0.04 of the pores; from memory)
	freshestDensity = 50.0   // kg/m³
	densestSnow     = 550.0  // kg/m³, old wet snow
)

// NewSnowDensity in kg/m³ at an air temperature: Hedstrom & Pomeroy 1998,
// Hydrol. Process. 12:1611; held at its value at +2 °C above that.
func NewSnowDensity(airC float64) float64 {
	return 67.92 + 51.25*math.Exp(math.Min(airC, 2)/2.59)
}

// SnowShare is the share of precipitation that falls as snow at a wet-bulb
// temperature: Wang et al. 2019, Geophys. Res. Lett. 46:13825 (from memory; half
// at +0.8 °C).
func SnowShare(wetBulbC float64) float64 {
	return 1 / (1 + 6.99e-5*math.Exp(2*(wetBulbC+3.97)))
}

// DepthM is the depth of the pack.
func (s *Snow) DepthM() float64 {
	d := 0.0
	for i := range s.Layers {
		d += s.ThickM[i]
	}
	return d
}

// WaterMM is the water the pack holds, mm.
func (s *Snow) WaterMM() float64 {
	m := 0.0
	for i := range s.Layers {
		m += s.IceKgM2[i] + s.WetKgM2[i]
	}
	return m
}

// fall adds new snow of a mass (mm of water) at an air temperature.
func (s *Snow) fall(mm, airC float64) {
	if mm <= 0 || s.Layers == 0 && mm < leastSnowKgM2 {
		return
	}
	s.put(mm, mm/NewSnowDensity(airC), math.Min(airC, 0))
	s.AgeHours *= math.Exp(-mm) // a few mm make the surface fresh again
}

// put lays ice on top, in its own layer unless that or the uppermost is thin.
func (s *Snow) put(ice, thick, temp float64) {
	if s.Layers > 0 && (s.ThickM[0] < thinSnowM || thick < leastDepthM) {
		s.blend(0, ice, 0, thick, temp)
		return
	}
	if s.Layers == SnowLayers {
		s.merge(s.slimmestPair())
	}
	copy(s.IceKgM2[1:], s.IceKgM2[:s.Layers])
	copy(s.WetKgM2[1:], s.WetKgM2[:s.Layers])
	copy(s.ThickM[1:], s.ThickM[:s.Layers])
	copy(s.TempC[1:], s.TempC[:s.Layers])
	s.Layers++
	s.IceKgM2[0], s.WetKgM2[0], s.ThickM[0], s.TempC[0] = ice, 0, thick, temp
	s.divide()
}

// thickSnowM: a layer thicker than this is divided while there is room.
const thickSnowM = 0.05

// divide halves the thickest layer until all are thin or there are enough.
func (s *Snow) divide() {
	for s.Layers > 0 && s.Layers < SnowLayers {
		i := s.thickest()
		if s.ThickM[i] <= thickSnowM {
			return
		}
		s.IceKgM2[i] /= 2
		s.WetKgM2[i] /= 2
		s.ThickM[i] /= 2
		copy(s.IceKgM2[i+1:], s.IceKgM2[i:s.Layers])
		copy(s.WetKgM2[i+1:], s.WetKgM2[i:s.Layers])
		copy(s.ThickM[i+1:], s.ThickM[i:s.Layers])
		copy(s.TempC[i+1:], s.TempC[i:s.Layers])
		s.Layers++
	}
}

func (s *Snow) thickest() int32 {
	best := int32(0)
	for i := range s.Layers {
		if s.ThickM[i] > s.ThickM[best] {
			best = i
		}
	}
	return best
}

func (s *Snow) blend(i int32, ice, wet, thick, temp float64) {
	total := s.IceKgM2[i] + ice
	if total > 0 {
		s.TempC[i] = (s.TempC[i]*s.IceKgM2[i] + temp*ice) / total
	}
	s.IceKgM2[i], s.WetKgM2[i], s.ThickM[i] = total, s.WetKgM2[i]+wet, s.ThickM[i]+thick
}

// slimmestPair is the upper one of the two neighbours that are thinnest together.
func (s *Snow) slimmestPair() int32 {
	best, thin := int32(0), math.Inf(1)
	for i := int32(0); i+1 < s.Layers; i++ {
		if both := s.ThickM[i] + s.ThickM[i+1]; both < thin {
			best, thin = i, both
		}
	}
	return best
}

// merge puts layer i into the one below it.
func (s *Snow) merge(i int32) {
	s.blend(i+1, s.IceKgM2[i], s.WetKgM2[i], s.ThickM[i], s.TempC[i])
	s.drop(i)
}

func (s *Snow) drop(i int32) {
	copy(s.IceKgM2[i:], s.IceKgM2[i+1:s.Layers])
	copy(s.WetKgM2[i:], s.WetKgM2[i+1:s.Layers])
	copy(s.ThickM[i:], s.ThickM[i+1:s.Layers])
	copy(s.TempC[i:], s.TempC[i+1:s.Layers])
	s.Layers--
	n := s.Layers
	s.IceKgM2[n], s.WetKgM2[n], s.ThickM[n], s.TempC[n] = 0, 0, 0, 0
}

// settle lets the pack grow denser for dt seconds: Anderson 1976 (NOAA Tech.
// Rep. NWS 19), destructive metamorphism and the load above.
func (s *Snow) settle(dt float64) {
	load := 0.0
	for i := range s.Layers {
		mass := s.IceKgM2[i] + s.WetKgM2[i]
		density := mass / s.ThickM[i]
		cold := -s.TempC[i]
		rate := 2.5e-6 * math.Exp(-0.04*cold)
		if density > 100 {
			rate *= math.Exp(-0.046 * (density - 100))
		}
		if s.WetKgM2[i] > 0 {
			rate *= 2
		}
		rate += (load + mass/2) * math.Exp(-0.08*cold-0.021*density) / 1.33e6
		s.ThickM[i] = math.Max(s.ThickM[i]*math.Exp(-rate*dt), mass/densestSnow)
		load += mass
	}
}

// rain adds liquid to the top; the pack must not be empty.
func (s *Snow) rain(mm float64) { s.WetKgM2[0] += mm }

// melt takes joules (per m²) from the top down and gives what no snow was left for.
func (s *Snow) melt(joules float64) float64 {
	for i := int32(0); i < s.Layers && joules > 0; i++ {
		m := math.Min(s.IceKgM2[i], joules/latentJPerKg)
		s.thin(i, m)
		s.WetKgM2[i] += m
		joules -= m * latentJPerKg
	}
	return joules
}

// thin takes ice from a layer at the same density.
func (s *Snow) thin(i int32, ice float64) {
	if s.IceKgM2[i] <= 0 {
		return
	}
	keep := 1 - ice/s.IceKgM2[i]
	s.IceKgM2[i] -= ice
	s.ThickM[i] *= keep
}

// drain refreezes liquid in cold layers, lets the surplus run down and out, and
// drops what is no longer snow.
func (s *Snow) drain() {
	down := 0.0
	for i := range s.Layers {
		s.WetKgM2[i] += down
		down = 0
		if s.TempC[i] < 0 && s.WetKgM2[i] > 0 && s.IceKgM2[i] > 0 {
			s.refreeze(i)
		}
		if most := holdsWater * s.IceKgM2[i]; s.WetKgM2[i] > most {
			down = s.WetKgM2[i] - most
			s.WetKgM2[i] = most
		}
	}
	for i := s.Layers - 1; i >= 0; i-- {
		if s.IceKgM2[i] < leastSnowKgM2 {
			s.discard(i)
		}
	}
}

func (s *Snow) refreeze(i int32) {
	heat := iceSpecificHeat * s.IceKgM2[i]
	m := math.Min(s.WetKgM2[i], heat*-s.TempC[i]/latentJPerKg)
	s.TempC[i] = math.Min(0, s.TempC[i]+m*latentJPerKg/heat)
	s.WetKgM2[i] -= m
	s.IceKgM2[i] += m
}

// discard merges a remnant downward, or loses it when it is the last.
func (s *Snow) discard(i int32) {
	if i+1 < s.Layers {
		s.merge(i)
		return
	}
	s.drop(i)
}

// albedo of the snow for its age: fresh 0.85 falling to 0.5 (USACE 1956, Snow Hydrology).
func (s *Snow) albedo(melting bool) float64 {
	days := s.AgeHours / 24
	if melting {
		return 0.40 + 0.45*math.Exp(-0.23*days)
	}
	return 0.60 + 0.25*math.Exp(-0.10*days)
}
