package microclimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func TestLeafDepressionRule(t *testing.T) {
	assert.InDelta(t, 3, float64(LeafDepression(0, 0)), 1e-12)
	assert.InDelta(t, 1, float64(LeafDepression(0.5, 1)), 1e-12)
	assert.Zero(t, LeafDepression(0, 5))
	assert.Zero(t, LeafDepression(1, 0))
}

// night is a leaf 20 cm high over bare ground at midnight.
func nightLeaf(t require.TestingT, air, cloud, wind10 float64, on Dressing) float64 {
	g := NewGround(loamAt45, winterStart)
	h := hourOf(time.Date(2025, 11, 1, 6, 0, 0, 0, time.UTC), air, cloud, wind10)
	l, err := g.Leaf(&loamAt45, on, h, 20)
	require.NoError(t, err)
	return float64(l)
}

// Leuning & Cremer 1988: 1 to 3 K below the air on clear calm nights. The energy
// balance must stay near the plain rule over the whole range.
func TestEnergyBalanceAgreesWithTheRule(t *testing.T) {
	for _, r := range []struct{ cloud, wind10, most, least float64 }{
		{0, 0.5, 3.0, 1.0}, {0, 1, 3.0, 1.0}, {0, 4, 2.2, 0.4}, {0.5, 2, 1.6, 0.4}, {1, 1, 0.6, 0}, {1, 6, 0.4, 0},
	} {
		d := -5 - nightLeaf(t, -5, r.cloud, r.wind10, Dressing{})
		assert.LessOrEqual(t, d, r.most, "%+v", r)
		assert.GreaterOrEqual(t, d, r.least, "%+v", r)
		assert.InDelta(t, float64(LeafDepression(r.cloud, wind10ToWind2*r.wind10)), d, 1.5, "%+v", r)
	}
}

func TestLeafInSunIsWarmerThanTheAir(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	h := hourOf(time.Date(2025, 11, 1, 18, 0, 0, 0, time.UTC), -1, 0, 2)
	l, err := g.Leaf(&loamAt45, Dressing{}, h, 20)
	require.NoError(t, err)
	assert.Greater(t, float64(l), 0.0, "it thaws")
	assert.Less(t, float64(l), 10.0)
	h.Shortwave = unit.Some(0.0)
	dark, err := g.Leaf(&loamAt45, Dressing{}, h, 20)
	require.NoError(t, err)
	assert.Less(t, float64(dark), -1.0, "a reading of the sun overrides the clear sky")
}

func TestColderAirCalmerClearerIsNeverWarmer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air := rapid.Float64Range(-30, 10).Draw(t, "air")
		cloud := rapid.Float64Range(0, 1).Draw(t, "cloud")
		wind := rapid.Float64Range(0, 12).Draw(t, "wind")
		here := nightLeaf(t, air, cloud, wind, Dressing{})
		if l := nightLeaf(t, air-rapid.Float64Range(0, 5).Draw(t, "colder"), cloud, wind, Dressing{}); l > here+0.01 {
			t.Fatalf("colder air: %v against %v", l, here)
		}
		if l := nightLeaf(t, air, cloud*rapid.Float64Range(0, 1).Draw(t, "clearer"), wind, Dressing{}); l > here+0.01 {
			t.Fatalf("clearer: %v against %v", l, here)
		}
		if l := nightLeaf(t, air, cloud, wind*rapid.Float64Range(0, 1).Draw(t, "calmer"), Dressing{}); l > here+0.01 {
			t.Fatalf("calmer: %v against %v", l, here)
		}
	})
}

func TestLeafUnderSnow(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	h := hourOf(winterStart, -20, 0, 1)
	h.SnowDepth = unit.Some(30.0)
	require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
	low, err := g.Leaf(&loamAt45, Dressing{}, h, 10)
	require.NoError(t, err)
	tall, err := g.Leaf(&loamAt45, Dressing{}, h, 60)
	require.NoError(t, err)
	flat, err := g.Leaf(&loamAt45, Dressing{}, h, 0)
	require.NoError(t, err)
	assert.Greater(t, float64(low), -8.0, "buried")
	assert.Less(t, float64(tall), -14.0, "half of it stands out")
	assert.InDelta(t, g.BaseC, float64(flat), 1e-9)
	_, err = g.Leaf(&loamAt45, Dressing{}, h, -1)
	assert.ErrorContains(t, err, "height -1 cm")
	_, err = g.Leaf(&loamAt45, Dressing{Cover: "x"}, h, 10)
	assert.ErrorContains(t, err, `cover "x"`)
	_, err = g.Leaf(&loamAt45, Dressing{}, weather.Hour{At: winterStart}, 10)
	assert.ErrorContains(t, err, "air temperature is missing")
}
