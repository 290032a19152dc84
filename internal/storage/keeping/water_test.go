package keeping

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

var open = Container{Name: "open"}

// Saturation over water: Alduchov & Eskridge 1996, computed: at -10 °C 2.868 hPa.
func TestVapourDeficit(t *testing.T) {
	assert.InDelta(t, 286.8, VapourDeficit(-10, 0), 0.2)
	assert.InDelta(t, 30.55, VapourDeficit(0, 0.95), 0.005)
	assert.Zero(t, VapourDeficit(4, 1))
}

// kt from Sastry 1978 as in the ASHRAE handbook (memory); the percentages follow
// from kt · VPD · 8.64e-6 at 0 °C and 95 %.
func TestWaterLossAtZero(t *testing.T) {
	b := book(t)
	for key, want := range map[string]float64{"carrot": 0.3186, "leek-summer": 0.2085, "parsnip": 0.5094, "onion": 0.0158} {
		e, err := b.Entry(key, "")
		require.NoError(t, err)
		kt, ok := e.kt(false)
		require.True(t, ok)
		assert.InDelta(t, want, WaterLoss(kt, VapourDeficit(0, 0.95), open), 0.001, key)
	}
}

// whiteCabbage is the regression of a storage trial with white cabbage, % of
// mass after some days (Acta Horticulturae 157:34). It is not ours: it checks ours.
func whiteCabbage(deficitPa, days float64) float64 { return 0.0696*deficitPa + 0.0314*days - 1.74 }

func TestCabbageAgainstStorageTrial(t *testing.T) {
	assert.InDelta(t, 4.566, whiteCabbage(50, 90), 0.001)
	e, err := book(t).Entry("cabbage", "")
	require.NoError(t, err)
	kt, _ := e.kt(false)
	for _, days := range []float64{60, 90, 120} {
		ours, trial := 0.0, whiteCabbage(50, days)
		ours = WaterLoss(kt, 50, open) * days
		assert.Greater(t, ours, trial, "the safe side: ours dries faster than the trial")
		assert.Less(t, ours, 3*trial)
	}
}

func TestClosedContainerCutsTheDeficit(t *testing.T) {
	b := book(t)
	tote, err := b.Container("tote")
	require.NoError(t, err)
	assert.Less(t, WaterLoss(1207, 40, tote), 0.15*WaterLoss(1207, 40, open))
	// A skin that is tight itself gains little from a lid.
	assert.Greater(t, WaterLoss(25, 40, tote), 0.6*WaterLoss(25, 40, open))
	_, err = b.Container("basket")
	assert.ErrorContains(t, err, "open, tote, bag, crate, hung")
}

func TestDrierAirNeverKeepsLonger(t *testing.T) {
	b := book(t)
	rapid.Check(t, func(t *rapid.T) {
		key := rapid.SampledFrom([]string{"carrot", "leek-summer", "parsnip", "cabbage", "lettuce-head", "onion"}).Draw(t, "crop")
		in := rapid.SampledFrom([]string{"open", "tote", "bag", "crate", "hung"}).Draw(t, "container")
		k, err := b.Keeper(key, "", in)
		require.NoError(t, err)
		at := rapid.Float64Range(0, 20).Draw(t, "°C")
		damp := rapid.Float64Range(0, 1).Draw(t, "damp")
		dry := rapid.Float64Range(0, damp).Draw(t, "dry")
		u, err := k.UseBy(k.Cured(), harvest, climate(farm.ColdStore, at, damp))
		require.NoError(t, err)
		v, err := k.UseBy(k.Cured(), harvest, climate(farm.ColdStore, at, dry))
		require.NoError(t, err)
		if v.P50.After(u.P50) {
			t.Fatalf("%s keeps longer at %g than at %g", key, dry, damp)
		}
	})
}

func TestFirstClockWins(t *testing.T) {
	assert.Equal(t, Drying, useBy(t, "carrot", "open", climate(farm.ColdStore, 3.9, 0.9)).Clock)
	assert.Equal(t, Ageing, useBy(t, "carrot", "tote", climate(farm.ColdStore, 3.9, 0.95)).Clock)
	assert.Equal(t, Frozen, useBy(t, "carrot", "bag", climate(farm.Freezer, -18, 0.95)).Clock)
	assert.Equal(t, Thawed, useBy(t, "carrot", "bag", climate(farm.ColdStore, -3, 0.95)).Clock)
}

func TestClimateMustBeKnown(t *testing.T) {
	k, err := book(t).Keeper("carrot", "", "tote")
	require.NoError(t, err)
	nan := unit.Celsius(0)
	nan = nan / nan
	for _, c := range []Climate{
		{Kind: farm.ColdStore, Temperature: nan},
		{Kind: "attic", Temperature: 3},
		climate(farm.ColdStore, 3, 95),
	} {
		_, err := k.UseBy(State{}, harvest, c)
		assert.Error(t, err)
		_, err = k.After(State{}, 1, c)
		assert.Error(t, err)
	}
	_, err = k.After(State{}, -1, climate(farm.ColdStore, 3, 0.9))
	assert.ErrorContains(t, err, "0 or more")
}
