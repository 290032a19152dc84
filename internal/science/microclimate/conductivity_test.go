package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSnowConductivity(t *testing.T) {
	// Sturm et al. 1997, J. Glaciol. 43:26, eq. 4.
	for _, r := range []struct{ density, k float64 }{{50, 0.0347}, {100, 0.0464}, {200, 0.0653}, {300, 0.1260}, {400, 0.2513}} {
		assert.InDelta(t, r.k, SnowConductivity(r.density), 5e-5, "%v kg/m³", r.density)
	}
	assert.Equal(t, SnowConductivity(917), SnowConductivity(2000), "not denser than ice")
}

func TestSoilConductivity(t *testing.T) {
	// Johansen 1975 as in Peters-Lidard et al. 1998, worked apart from this code; 5e-4.
	assert.InDelta(t, 0.2050, DryConductivity(0.45), 5e-4)
	for _, r := range []struct {
		name                         string
		porosity, quartz, saturation float64
		frozen, coarse               bool
		k, tolerance                 float64
	}{
		{"loam half wet", 0.45, 0.40, 0.5, false, false, 1.1307, 5e-4},
		{"loam half wet, frozen", 0.45, 0.40, 0.5, true, false, 1.5067, 5e-4},
		{"loam wet", 0.45, 0.40, 1, false, false, 1.5294, 5e-4},
		{"loam wet, frozen", 0.45, 0.40, 1, true, false, 2.8084, 5e-4},
		{"sand half wet, fine form", 0.40, 0.92, 0.5, false, false, 1.8539, 5e-4},
		{"sand half wet, frozen", 0.40, 0.92, 0.5, true, false, 2.3080, 5e-4},
		{"sand half wet, coarse form", 0.40, 0.92, 0.5, false, true, 2.06, 5e-3},
	} {
		assert.InDelta(t, r.k, SoilConductivity(r.porosity, r.quartz, r.saturation, r.frozen, r.coarse), r.tolerance, r.name)
	}
}

func TestEarthMeetsTheTwoForms(t *testing.T) {
	for _, s := range Soils() {
		x := s.Texture()
		if x.Organic {
			continue
		}
		e := earthOf(s)
		assert.InDelta(t, SoilConductivity(x.Porosity, x.Quartz, e.saturation, false, x.Coarse), e.conductivity(1), 1e-9, s)
		assert.InDelta(t, SoilConductivity(x.Porosity, x.Quartz, e.saturation, true, x.Coarse), e.conductivity(0), 1e-9, s)
	}
}

func TestSoilClasses(t *testing.T) {
	for _, s := range Soils() {
		got, err := ParseSoil(string(s))
		require.NoError(t, err)
		assert.Equal(t, s, got)
		x := s.Texture()
		fc := x.FieldCapacity()
		assert.Greater(t, fc, 0.05, s)
		assert.Less(t, fc, x.Porosity, s)
		assert.Less(t, x.FreezingPoint(fc), 0.0, s)
		assert.Greater(t, x.FreezingPoint(fc), -0.1, "%s: water at field capacity freezes just below 0 °C", s)
		assert.Greater(t, x.DryDensity(), 100.0, s)
	}
	// Agronomic field capacities: sand about 0.10, loam 0.27, clay 0.40 (FAO Irrigation and Drainage Paper 56, table 19).
	assert.InDelta(t, 0.12, Sand.Texture().FieldCapacity(), 0.05)
	assert.InDelta(t, 0.25, Loam.Texture().FieldCapacity(), 0.05)
	assert.InDelta(t, 0.36, Clay.Texture().FieldCapacity(), 0.05)
	got, err := ParseSoil("")
	require.NoError(t, err)
	assert.Equal(t, Loam, got)
	_, err = ParseSoil("mud")
	assert.ErrorContains(t, err, `soil "mud": must be one of sand, loamy_sand`)
	assert.Equal(t, Loam.Texture(), Soil("mud").Texture())
}

func TestFrostDepth(t *testing.T) {
	// Stefan's formula worked apart: k 1.6 W/m/K, water 0.25.
	latent := LatentHeat(0.25)
	for _, r := range []struct{ index, resistance, depth float64 }{
		{10, 0, 0.182}, {50, 0, 0.407}, {100, 0, 0.575}, {200, 0, 0.814}, {500, 0, 1.287},
		{100, 0.5, 0.1855}, {100, 2.5, 0.0412},
	} {
		assert.InDelta(t, r.depth, FrostDepth(r.index, 1.6, latent, r.resistance), 0.001, "%v °C·d, R %v", r.index, r.resistance)
	}
	assert.Zero(t, FrostDepth(0, 1.6, latent, 0))
	assert.Zero(t, FrostDepth(-5, 1.6, latent, 0))
	// In US units, X = sqrt(48·k·nFI/L) with L = 144·0.15·100 Btu/ft³: 6.325 ft
	// (the form of UFC 3-130; 1 Btu = 1055.056 J, 1 ft = 0.3048 m).
	k := 0.72 * 1055.056 / 3600 / 0.3048 * 1.8
	l := 144 * 0.15 * 100 * 1055.056 / (0.3048 * 0.3048 * 0.3048)
	assert.InDelta(t, 6.325, FrostDepth(2500/1.8, k, l, 0)/0.3048, 0.005)
}
