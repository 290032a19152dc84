package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// By hand: porosity × (saturated suction / suction)^(1/b), at 33 kPa, which is
// 3.365 m of water, and for sand and peat at 10 kPa, 1.020 m.
func TestWaterAtFieldCapacity(t *testing.T) {
	for soil, want := range map[Soil]float64{Loam: 0.2860, Clay: 0.3945, Sand: 0.1291, Peat: 0.4137} {
		assert.InDelta(t, want, soil.Texture().FieldCapacity(), 5e-4, soil)
	}
	assert.Equal(t, Loam.Texture(), Soil("mud").Texture(), "what is not known is loam")
}

// By hand: solids of 2700 kg/m³ in 56.1 % of a loam, of 1500 in 12 % of peat.
func TestDryDensity(t *testing.T) {
	assert.InDelta(t, 1514.7, Loam.Texture().DryDensity(), 0.05)
	assert.InDelta(t, 180, Peat.Texture().DryDensity(), 1e-9)
}

// By hand: g × 273.15 K × suction / 333.6 kJ/kg. A saturated loam holds its water by
// 0.355 m; half full by 2^5.25 = 38.05 times as much.
func TestSoilWaterFreezesBelowZero(t *testing.T) {
	loam := Loam.Texture()
	assert.InDelta(t, -0.00285, loam.FreezingPoint(0.439), 1e-5)
	assert.InDelta(t, -0.1085, loam.FreezingPoint(0.2195), 1e-4)
}

func TestSoilsByName(t *testing.T) {
	for _, s := range Soils() {
		got, err := ParseSoil(string(s))
		require.NoError(t, err)
		assert.Equal(t, s, got)
	}
	got, err := ParseSoil("")
	require.NoError(t, err)
	assert.Equal(t, Loam, got)
	_, err = ParseSoil("mud")
	assert.ErrorContains(t, err, `soil "mud": must be one of sand, loamy_sand, sandy_loam, loam, silt_loam, clay_loam, clay, peat`)
}
