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

// The same by hand where its parts differ: under 100 kg/m³ there is no brake on
// metamorphism, wet snow goes through it twice as fast and under its load no
// faster, and the lower of two layers carries all of the upper and half of itself.
//
//	8 kg/m² in 0.1 m at -5 °C:        2.5e-6·e^-0.2 + 4·e^(-0.4-1.68)/1.33e6      = 2.42256e-6
//	20 kg and 1 kg wet in 0.2 m, 0 °C: 2·2.5e-6·e^-0.23 + 10.5·e^-2.205/1.33e6      = 4.84307e-6
//	20 kg in 0.1 m at -2 °C under 8:   2.5e-6·e^(-0.08-4.6) + 18·e^(-0.16-4.2)/1.33e6 = 1.96138e-7
func TestSettlingByHand(t *testing.T) {
	for _, c := range []struct {
		name string
		s    Snow
		at   int
		rate float64
	}{
		{"new", Snow{Layers: 1, IceKgM2: layered(8), ThickM: layered(0.1), TempC: layered(-5)}, 0, 2.42256e-6},
		{"wet", Snow{Layers: 1, IceKgM2: layered(20), WetKgM2: layered(1), ThickM: layered(0.2)}, 0, 4.84307e-6},
		{"below", Snow{Layers: 2, IceKgM2: layered(8, 20), ThickM: layered(0.1, 0.1), TempC: layered(-5, -2)}, 1, 1.96138e-7},
	} {
		before := c.s.ThickM[c.at]
		c.s.settle(60)
		assert.InEpsilon(t, c.rate, (before-c.s.ThickM[c.at])/before/60, 1e-3, c.name)
	}
}

func layered(v ...float64) (out [SnowLayers]float64) {
	copy(out[:], v)
	return out
}

// No snow grows denser than old wet snow.
func TestSettlingEndsAtTheDensest(t *testing.T) {
	s := Snow{Layers: 1, IceKgM2: layered(54), WetKgM2: layered(1), ThickM: layered(0.1001)}
	for range 24 * 365 {
		s.settle(hourS)
	}
	assert.InDelta(t, 0.1, s.ThickM[0], 1e-12, "55 kg/m² at 550 kg/m³")
}

// A millimetre of new snow takes the age to the e-th part, ten millimetres to
// nothing; a pack that has gone has no age. Albedo by USACE 1956, worked apart:
// cold snow of ten days 0.60 + 0.25/e = 0.6920, melting 0.40 + 0.45·e^-2.3 = 0.4451.
func TestNewSnowIsFresh(t *testing.T) {
	s := Snow{Layers: 1, IceKgM2: layered(20), ThickM: layered(0.1), AgeHours: 240}
	assert.InDelta(t, 0.6920, s.albedo(false), 1e-4)
	assert.InDelta(t, 0.4451, s.albedo(true), 1e-4)
	s.fall(1, -5)
	assert.InDelta(t, 88.29, s.AgeHours, 0.01)
	s.fall(10, -5)
	assert.InDelta(t, 0, s.AgeHours, 0.01)
	assert.InDelta(t, 0.85, s.albedo(false), 1e-4)
	assert.InDelta(t, 0.85, s.albedo(true), 1e-4)
}

func TestSnowAgesByTheHour(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	step := func(air, mm float64) {
		h := hourOf(g.At(), air, 1, 2)
		h.Precip = unit.Some(mm)
		require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
	}
	step(-8, 15)
	assert.InDelta(t, 1, g.Snow.AgeHours, 1e-3)
	for range 30 {
		step(-8, 0)
	}
	assert.InDelta(t, 31, g.Snow.AgeHours, 1e-3)
	step(-8, 0.5)
	assert.InDelta(t, 31*0.60653+1, g.Snow.AgeHours, 0.05, "half a millimetre: e^-0.5, and an hour")
	for range 24 * 6 {
		step(10, 0)
	}
	require.Zero(t, g.Snow.Layers)
	assert.Zero(t, g.Snow.AgeHours, "there is no snow to be old")
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
