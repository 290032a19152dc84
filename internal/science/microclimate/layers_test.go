package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// New snow lies in its own layer, with its own temperature; what lay there keeps
// its own, one layer further down.
func TestNewSnowLiesOnTop(t *testing.T) {
	s := Snow{Layers: 2, IceKgM2: [SnowLayers]float64{10, 20}, WetKgM2: [SnowLayers]float64{0.1, 0.2}, ThickM: [SnowLayers]float64{0.03, 0.05}, TempC: [SnowLayers]float64{-2, -1}}
	s.put(3, 0.04, -8)
	assert.Equal(t, Snow{Layers: 3, IceKgM2: [SnowLayers]float64{3, 10, 20}, WetKgM2: [SnowLayers]float64{0, 0.1, 0.2},
		ThickM: [SnowLayers]float64{0.04, 0.03, 0.05}, TempC: [SnowLayers]float64{-8, -2, -1}}, s)
}

// On a thin layer it is taken up: 2 kg at -3 °C and 4 kg at -6 °C are 6 kg at -5 °C.
func TestSnowOnAThinLayerMixesWithIt(t *testing.T) {
	s := Snow{Layers: 1, IceKgM2: [SnowLayers]float64{2}, WetKgM2: [SnowLayers]float64{0.1}, ThickM: [SnowLayers]float64{0.019}, TempC: [SnowLayers]float64{-3}}
	s.put(4, 0.03, -6)
	assert.EqualValues(t, 1, s.Layers)
	assert.InDeltaSlice(t, []float64{6, 0.1, 0.049, -5}, []float64{s.IceKgM2[0], s.WetKgM2[0], s.ThickM[0], s.TempC[0]}, 1e-12)
}

// A thick layer is divided in two halves of the same temperature, the thickest first.
func TestAThickLayerIsHalved(t *testing.T) {
	s := Snow{Layers: 3, IceKgM2: [SnowLayers]float64{5, 6, 4}, WetKgM2: [SnowLayers]float64{0.5, 0.6, 0.4}, ThickM: [SnowLayers]float64{0.05, 0.08, 0.02}, TempC: [SnowLayers]float64{-5, -3, -1}}
	s.divide()
	assert.Equal(t, Snow{Layers: 4, IceKgM2: [SnowLayers]float64{5, 3, 3, 4}, WetKgM2: [SnowLayers]float64{0.5, 0.3, 0.3, 0.4},
		ThickM: [SnowLayers]float64{0.05, 0.04, 0.04, 0.02}, TempC: [SnowLayers]float64{-5, -3, -3, -1}}, s)
}

// A full pack makes room by joining the two neighbours that are thinnest together:
// here 0.03 and 0.02 m, 1 kg at -4 °C and 3 kg at -2 °C.
func TestAFullPackJoinsItsThinnestNeighbours(t *testing.T) {
	s := Snow{Layers: 5, IceKgM2: [SnowLayers]float64{9, 8, 1, 3, 7}, WetKgM2: [SnowLayers]float64{0.1, 0.2, 0.3, 0.4, 0.5},
		ThickM: [SnowLayers]float64{0.04, 0.05, 0.03, 0.02, 0.05}, TempC: [SnowLayers]float64{-9, -8, -4, -2, -1}}
	s.put(2, 0.03, -10)
	assert.EqualValues(t, 5, s.Layers)
	assert.InDeltaSlice(t, []float64{2, 9, 8, 4, 7}, s.IceKgM2[:], 1e-12)
	assert.InDeltaSlice(t, []float64{0, 0.1, 0.2, 0.7, 0.5}, s.WetKgM2[:], 1e-12)
	assert.InDeltaSlice(t, []float64{0.03, 0.04, 0.05, 0.05, 0.05}, s.ThickM[:], 1e-12)
	assert.InDeltaSlice(t, []float64{-10, -9, -8, -2.5, -1}, s.TempC[:], 1e-12)
}

// A remnant of less than a hundredth of a kilogram goes to the layer below it; the
// lowest is lost.
func TestARemnantIsJoinedOrLost(t *testing.T) {
	s := Snow{Layers: 3, IceKgM2: [SnowLayers]float64{0.009, 2, 0.009}, ThickM: [SnowLayers]float64{0.001, 0.02, 0.001}, TempC: [SnowLayers]float64{0, 0, 0}}
	s.drain()
	assert.EqualValues(t, 1, s.Layers)
	assert.InDeltaSlice(t, []float64{2.009, 0.021}, []float64{s.IceKgM2[0], s.ThickM[0]}, 1e-12)
}

// 2 kg of ice at -4 °C freezes 2 × 2100 × 4 / 333 600 = 0.05036 kg of water and is
// then at 0 °C; of 0.03 kg all freezes, and the ice stays colder.
func TestWaterFreezesInColdSnow(t *testing.T) {
	for wet, want := range map[float64][3]float64{0.09: {2.0503597, 0.0396403, 0}, 0.03: {2.03, 0, -1.6171429}} {
		s := Snow{Layers: 1, IceKgM2: [SnowLayers]float64{2}, WetKgM2: [SnowLayers]float64{wet}, ThickM: [SnowLayers]float64{0.02}, TempC: [SnowLayers]float64{-4}}
		s.drain()
		assert.InDeltaSlice(t, want[:], []float64{s.IceKgM2[0], s.WetKgM2[0], s.TempC[0]}, 1e-6, "%v kg of water", wet)
	}
}

// Snow holds a twentieth of its ice as water; what is more runs to the layer below,
// and from the lowest out of the pack.
func TestWaterRunsDown(t *testing.T) {
	s := Snow{Layers: 2, IceKgM2: [SnowLayers]float64{2, 4}, WetKgM2: [SnowLayers]float64{0.25, 0.1}, ThickM: [SnowLayers]float64{0.02, 0.04}}
	s.drain()
	assert.InDeltaSlice(t, []float64{0.1, 0.2}, s.WetKgM2[:2], 1e-12, "of 0.25 kg 0.15 run down; of those 0.05 run out")
}

// USACE 1956: fresh snow returns 0.85 of the light; after ten days in the cold 0.692,
// in a thaw 0.445.
func TestSnowDarkensWithAge(t *testing.T) {
	fresh, old := Snow{}, Snow{AgeHours: 240}
	assert.InDelta(t, 0.85, fresh.albedo(false), 1e-12)
	assert.InDelta(t, 0.85, fresh.albedo(true), 1e-12)
	assert.InDelta(t, 0.692, old.albedo(false), 5e-4)
	assert.InDelta(t, 0.445, old.albedo(true), 5e-4)
}

// A reading of half the depth on 10 kg in 3 cm would need 667 kg/m³. Of that only
// what 1.5 cm hold at 401 kg/m³ stays (Winkler et al. 2021): 6.015 kg; the rest has
// melted. Looser snow than that only settles.
func TestAFallingReadingPressesAndThenMelts(t *testing.T) {
	s := Snow{Layers: 1, IceKgM2: [SnowLayers]float64{9}, WetKgM2: [SnowLayers]float64{1}, ThickM: [SnowLayers]float64{0.03}}
	s.stretch(0.5)
	assert.InDeltaSlice(t, []float64{6.015, 0.9 * 6.015, 0.015}, []float64{s.WaterMM(), s.IceKgM2[0], s.ThickM[0]}, 1e-9)
	loose := Snow{Layers: 1, IceKgM2: [SnowLayers]float64{3}, ThickM: [SnowLayers]float64{0.03}}
	loose.stretch(0.5)
	assert.InDeltaSlice(t, []float64{3, 0.015}, []float64{loose.IceKgM2[0], loose.ThickM[0]}, 1e-12)
}

// A rising reading is new snow where the old would be looser than the freshest,
// 50 kg/m³: 4 kg in 4 cm stretched to 12 cm must be 6 kg.
func TestARisingReadingIsNoLooserThanFreshSnow(t *testing.T) {
	s := Snow{Layers: 1, IceKgM2: [SnowLayers]float64{4}, ThickM: [SnowLayers]float64{0.04}}
	s.stretch(3)
	assert.InDeltaSlice(t, []float64{6, 0.12}, []float64{s.IceKgM2[0], s.ThickM[0]}, 1e-12)
}
