package microclimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
)

func TestNewSnowDensity(t *testing.T) {
	// Hedstrom & Pomeroy 1998, eq. 3: 67.92 + 51.25·exp(T/2.59).
	assert.InDelta(t, 119.17, NewSnowDensity(0), 0.01)
	assert.InDelta(t, 75.35, NewSnowDensity(-5), 0.05)
	assert.InDelta(t, 67.94, NewSnowDensity(-20), 0.05)
	assert.Equal(t, NewSnowDensity(2), NewSnowDensity(10))
}

func TestSnowShare(t *testing.T) {
	assert.InDelta(t, 0.5, SnowShare(0.81), 0.01)
	assert.Greater(t, SnowShare(-5), 0.99)
	assert.Less(t, SnowShare(4), 0.01)
}

// Anderson 1976 (NWS 19), worked apart for one layer of 20 kg/m² and 100 kg/m³
// at -5 °C: metamorphism 2.5e-6·exp(-0.2) = 2.047e-6, load 10·exp(-0.4-2.1)/1.33e6
// = 6.17e-7; together 2.664e-6 /s, in a day a loss of 20.6 % of the depth at a
// rate that falls as the snow grows denser.
func TestSettling(t *testing.T) {
	var s Snow
	s.IceKgM2[0], s.ThickM[0], s.TempC[0], s.Layers = 20, 0.2, -5, 1
	s.settle(600)
	assert.InDelta(t, 0.2*(1-2.664e-6*600), s.ThickM[0], 2e-6)
	for range 24 {
		s.settle(hourS)
	}
	assert.Less(t, s.ThickM[0], 0.195*0.9)
	assert.Greater(t, s.ThickM[0], 0.2*0.79)
}

func TestMidwinterPackIsDense(t *testing.T) {
	var s Snow
	for day := range 90 {
		if day%6 == 0 {
			s.fall(15, -6)
		}
		for range 24 {
			for i := range s.Layers {
				s.TempC[i] = -4
			}
			s.settle(hourS)
		}
	}
	density := s.WaterMM() / s.DepthM()
	// Midwinter packs are 200 to 350 kg/m³; without the load they stay under 200 (from memory).
	assert.Greater(t, density, 200.0)
	assert.Less(t, density, 350.0)
	assert.InDelta(t, 225, s.WaterMM(), 1e-6)
}

func TestRulerOverridesThePack(t *testing.T) {
	var s Snow
	s.setDepth(0.30, -8)
	assert.InDelta(t, 0.30, s.DepthM(), 1e-12)
	assert.InDelta(t, 0.30*NewSnowDensity(-8), s.WaterMM(), 1e-9, "new snow")
	s.setDepth(0.31, -8)
	assert.InDelta(t, 0.31, s.DepthM(), 1e-12)
	assert.InDelta(t, 0.30*NewSnowDensity(-8), s.WaterMM(), 1e-9, "a ruler's error is not snow")
	s.setDepth(0.02, 5)
	assert.InDelta(t, 0.02, s.DepthM(), 1e-12)
	assert.LessOrEqual(t, s.WaterMM(), 0.02*pressedDensity+1e-9, "what cannot be pressed has melted")
	s.setDepth(0, -3)
	assert.Equal(t, Snow{}, s)
	s.setDepth(0.02, -3)
	assert.Equal(t, Snow{}, s, "a ruler does not see two centimetres on bare ground for sure")
}

func TestARepeatedReadingLetsThePackSettle(t *testing.T) {
	var s Snow
	for range 24 * 30 {
		s.settle(hourS)
		for i := range s.Layers {
			s.TempC[i] = -4
		}
		s.setDepth(0.40, -4)
	}
	assert.InDelta(t, 0.40, s.DepthM(), 1e-9)
	assert.Greater(t, s.WaterMM()/0.40, 130.0, "a month old pack is not new snow")
}

func TestMeltAndRefreezingKeepWater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Snow
		for range rapid.IntRange(1, 12).Draw(t, "falls") {
			s.fall(rapid.Float64Range(0.1, 20).Draw(t, "mm"), rapid.Float64Range(-15, 1).Draw(t, "air"))
		}
		before := s.WaterMM()
		left := s.melt(rapid.Float64Range(0, 2e6).Draw(t, "joules"))
		if d := s.WaterMM() - before; d > 1e-9 || d < -1e-9 {
			t.Fatalf("melting changed the water by %v mm", d)
		}
		if left > 1 && s.DepthM() > 1e-9 {
			t.Fatalf("heat is left over %v m of snow", s.DepthM())
		}
		s.drain()
		if s.WaterMM() > before+1e-9 {
			t.Fatalf("draining made water")
		}
	})
}

func TestLayersKeepMassAndDepth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Snow
		ice, deep := 0.0, 0.0
		for range rapid.IntRange(1, 40).Draw(t, "falls") {
			mm, air := rapid.Float64Range(0.01, 40).Draw(t, "mm"), rapid.Float64Range(-20, 2).Draw(t, "air")
			s.fall(mm, air)
			ice, deep = ice+mm, deep+mm/NewSnowDensity(air)
		}
		if d := s.WaterMM() - ice; d > 1e-6 || d < -1e-6 {
			t.Fatalf("%v mm fell, %v lie", ice, s.WaterMM())
		}
		if d := s.DepthM() - deep; d > 1e-9 || d < -1e-9 {
			t.Fatalf("%v m fell, %v lie", deep, s.DepthM())
		}
	})
}

func TestSnowMeltsInAThawAndRainStaysOffUnderATunnel(t *testing.T) {
	for _, r := range []struct {
		cover Cover
		snow  bool
	}{{NoCover, true}, {RowCoverHeavy, true}, {HighTunnel, false}} {
		g := NewGround(loamAt45, winterStart)
		for i := range 24 {
			h := hourOf(winterStart.Add(time.Duration(i)*time.Hour), -4, 1, 2)
			h.Precip = unit.Some(1.0)
			require.NoError(t, g.Step(&loamAt45, Dressing{Cover: r.cover}, h))
		}
		if !r.snow {
			assert.Zero(t, g.SnowCm())
			continue
		}
		assert.Greater(t, g.SnowCm(), 10.0, r.cover)
		for i := range 24 * 10 {
			h := hourOf(g.At(), 9, 0.6, 4)
			require.NoError(t, g.Step(&loamAt45, Dressing{Cover: r.cover}, h), i)
		}
		assert.Zero(t, g.SnowCm(), r.cover)
	}
}

func TestSnowBaseOnWarmSoilIsAtZero(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	h := hourOf(winterStart, -3, 0.5, 2)
	h.SnowDepth = unit.Some(20.0)
	require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
	assert.Zero(t, g.Crown())
	assert.Greater(t, g.SoilC[3], 0.5)
}
