package microclimate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Heat that goes in at the top is found in the layers again, whatever freezes or
// thaws.
func TestConductKeepsHeat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := earthOf(rapid.SampledFrom(Soils()).Draw(t, "soil"))
		nodes := make([]node, SoilLayers)
		start := rapid.Float64Range(-6, 6).Draw(t, "start")
		for i := range nodes {
			c := start + rapid.Float64Range(-1, 1).Draw(t, "t")
			nodes[i] = node{dz: soilThick[i], k: e.conductivity(e.unfrozen(c)), t: c, medium: e.medium}
		}
		air := start + rapid.Float64Range(-10, 10).Draw(t, "off")
		top := surface{
			absorbed: rapid.Float64Range(150, 900).Draw(t, "absorbed"), emissivity: 0.96,
			airC: air, vapourHPa: satWater(air) * rapid.Float64Range(0.2, 1).Draw(t, "humidity"),
			neutral: rapid.Float64Range(0.5, 40).Draw(t, "exchange"), windless: windlessWm2K, stability: 0.05,
			louis: louisFactor(0.005), wetness: 0.5, pressure: standardHPa,
		}
		before := heatIn(nodes)
		skin, ok := conduct(nodes, &top, start, hourS)
		if !ok {
			t.Fatal("no balance")
		}
		q, _ := top.flux(skin)
		if gained := (heatIn(nodes) - before) / hourS; math.Abs(gained-q) > 0.2 {
			t.Fatalf("took %v W/m², found %v", q, gained)
		}
	})
}

func heatIn(nodes []node) float64 {
	sum := 0.0
	for i := range nodes {
		h, _ := nodes[i].heat(nodes[i].t, true)
		sum += h * nodes[i].dz
	}
	return sum
}

// A steady column between a held surface and a warm base carries the same flux
// through every layer (Fourier).
func TestConductBecomesLinear(t *testing.T) {
	nodes := make([]node, 11)
	for i := range nodes {
		nodes[i] = node{dz: 0.1, k: 1.5, t: 5, medium: medium{thawed: 2e6, frozen: 2e6, point: -50}}
	}
	nodes[10].thawed = 1e15 // a base that does not change
	top := surface{airC: 1, neutral: 1e6, pressure: standardHPa}
	skin := 5.0
	for range 24 * 365 {
		skin, _ = conduct(nodes, &top, skin, hourS)
	}
	for i := range nodes[:10] {
		assert.InDelta(t, 1+4*(float64(i)+0.5)/10.5, nodes[i].t, 1e-3)
	}
}

func TestHeatContentMeetsAtTheFreezingPoint(t *testing.T) {
	for _, s := range Soils() {
		m := earthOf(s).medium
		above, _ := m.heat(m.point, false)
		below, _ := m.heat(m.point, true)
		assert.InDelta(t, above, below, 1e-3, s)
		cold, slope := m.heat(-3, true)
		near, _ := m.heat(-3.001, true)
		assert.InEpsilon(t, slope, (cold-near)/0.001, 0.01, "slope of %s", s)
		assert.InDelta(t, 1, m.unfrozen(0.5), 1e-12)
		assert.Less(t, m.unfrozen(-1), 0.8, "at -1 °C a good part is ice: %s", s)
	}
}

func TestSurfaceSlopeIsTheFluxsOwn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air := rapid.Float64Range(-30, 20).Draw(t, "air")
		s := surface{
			absorbed: 300, emissivity: 0.97, airC: air, vapourHPa: satWater(air) * rapid.Float64Range(0.2, 1).Draw(t, "humidity"),
			neutral: rapid.Float64Range(0.5, 30).Draw(t, "exchange"), windless: windlessWm2K,
			stability: rapid.Float64Range(0, 0.5).Draw(t, "stability"), louis: 4, wetness: 0.5, pressure: 1000,
			melting: rapid.Bool().Draw(t, "melting"),
		}
		at := rapid.Float64Range(-35, 30).Draw(t, "t")
		q, dq := s.flux(at)
		if !(dq < 0) {
			t.Fatalf("slope %v: a warmer surface must lose more", dq)
		}
		if next, _ := s.flux(at + 1e-3); next > q+1e-6 {
			t.Fatalf("flux rises from %v to %v", q, next)
		}
	})
}
