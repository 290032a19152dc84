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
		assert.InDelta(t, LeafDepression(r.cloud, wind10ToWind2*r.wind10), d, 1.5, "%+v", r)
	}
}

// The balance of a leaf at -8 °C in air of -5 °C by hand (Campbell & Norman 1998):
// it sends out 2·0.97·5.6704e-8·265.15⁴ = 543.726 W/m² and takes 29.3·0.5·3 =
// 43.95 from the air. Its ice has 3.0962 hPa; at 3.5 hPa frost brings 1.09·0.5/1000·
// 0.018·2.834e6 = 27.802 W/m² a hPa, at 3 hPa a leaf that is 0.15 open loses 4.170.
func TestLeafBalanceByHand(t *testing.T) {
	l := leaf{airC: -5, pressure: 1000, absorbed: 500, conductance: 0.5, opens: 0.15}
	for vapour, want := range map[float64]float64{3.5: 500 - 543.726 + 43.95 + 0.40384*27.802, 3: 500 - 543.726 + 43.95 - 0.09616*4.170} {
		l.vapourHPa = vapour
		q, _ := l.gain(-8)
		assert.InDelta(t, want, q, 0.01)
	}
	// Both sides, 8 cm wide, outdoors: 2·1.4·0.135·√(u/0.08), with half of the wind at 2 m and 0.4 m/s at least.
	assert.InDelta(t, 1.63679, leafIn(&met{wind2MS: 3}, 1000).conductance, 1e-4)
	assert.InDelta(t, 0.84523, leafIn(&met{wind2MS: 0}, 1000).conductance, 1e-4)
	assert.Zero(t, leafIn(&met{}, 1000).opens, "shut by night")
	assert.Equal(t, 0.15, leafIn(&met{sunWm2: 1}, 1000).opens)
}

// The temperature that is found is the one at which gain and loss meet.
func TestLeafIsInBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air := rapid.Float64Range(-30, 25).Draw(t, "air")
		m := met{airC: air, vapourHPa: satWater(air) * rapid.Float64Range(0.2, 1).Draw(t, "humidity"), wind2MS: rapid.Float64Range(0, 10).Draw(t, "wind"),
			sunWm2: rapid.Float64Range(0, 900).Draw(t, "sun"), skyWm2: rapid.Float64Range(150, 350).Draw(t, "sky")}
		l := leafIn(&m, 980)
		at := l.temperature()
		above, _ := l.gain(at + 1e-3)
		below, _ := l.gain(at - 1e-3)
		if above > 0 || below < 0 {
			t.Fatalf("%v °C: %v W/m² a thousandth below, %v above", at, below, above)
		}
	})
}

// Snow and a crop by heights: half buried it is half as warm as the snow, by night
// no colder at the snow's surface than above it, in full sun as cold as its skin.
func TestLeafInSnowByHeights(t *testing.T) {
	var g Ground
	g.Snow.setDepth(0.20, -5)
	g.BaseC, g.SkinC = -2, -12
	for _, c := range []struct {
		exposed, cm, sun, want float64
	}{
		{-10, 40, 0, 0.5*(-2-10)/2 + 0.5*-10},   // dark: the skin counts as -10
		{-10, 40, 100, 0.5*(-2-12)/2 + 0.5*-10}, // full sun
		{-10, 40, 50, 0.5*(-2-11)/2 + 0.5*-10},  // between
		{-14, 40, 0, 0.5*(-2-12)/2 + 0.5*-14},   // leaves colder than the skin warm nothing
		{-10, 20, 100, -7},                      // just covered: the middle between base and skin
		{-10, 10, 100, -2 + -10*0.25},           // a quarter of the way up, on the mean
	} {
		assert.InDelta(t, c.want, g.inSnow(c.exposed, c.cm, c.sun), 1e-9, "%+v", c)
	}
	g.Snow = Snow{}
	assert.Equal(t, -10.0, g.inSnow(-10, 40, 0))
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
