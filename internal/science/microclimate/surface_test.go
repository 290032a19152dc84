package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

// The log law by hand, for 2 m/s over snow of 2 mm roughness at -5 °C and
// 1013.25 hPa: ρ = 101325/(287.05·268.15) = 1.31638 kg/m³, ln(2/0.002) = 6.9078,
// for heat ln(2/0.0002) = 9.2103: 1.31638·1005·0.4²·2/(6.9078·9.2103) = 6.6540.
func TestNeutralExchangeIsTheLogLaw(t *testing.T) {
	assert.InDelta(t, 6.6540, exchangeWm2K(2, 0.002, -5, 1013.25), 1e-3)
	// g·z/(T·u²) = 9.80665·2/(268.15·4)
	assert.InDelta(t, 0.018286, richardson(2, -5), 1e-6)
	// Louis 1979: 5.3·9.4·(0.4/6.9078)²·√1000
	assert.InDelta(t, 5.2826, louisFactor(0.002), 1e-3)
}

// Louis' functions by hand, neutral 10 W/m²/K and Ri 0.05 for each kelvin, with
// 2 W/m²/K in a calm. Air 10 K warmer: 10/(1+10·0.5)+2 = 3.6667, times 10 K. Air
// 5 K colder, factor 2: Ri 0.25, 1+9.4·0.25/(1+2·0.5) = 2.175; the calm's 2/(1+5):
// (21.75+0.3333)·5 = 110.417 W/m², and vapour goes by 21.75+2.
func TestExchangeInStableAndUnstableAir(t *testing.T) {
	s := surface{neutral: 10, stability: 0.05, windless: 2, louis: 2}
	still := s.exchange(10)
	assert.InDelta(t, 36.6667, still.heat, 1e-3)
	assert.InDelta(t, 3.6667, still.vapour, 1e-3)
	rising := s.exchange(-5)
	assert.InDelta(t, -110.4167, rising.heat, 1e-3)
	assert.InDelta(t, 23.75, rising.vapour, 1e-3)
}

// The slopes that the balance is sought with are those of the fluxes: of all but
// vapour at any temperature, with vapour where a wet surface is warmer than the
// air (where it is colder the slope is held back on purpose).
func TestSlopesAreDerivatives(t *testing.T) {
	dry := surface{absorbed: 250, emissivity: 0.98, airC: -5, vapourHPa: 3, neutral: 8, windless: 2, louis: 5, stability: 0.02, pressure: 1e12, melting: true}
	for _, at := range []float64{-25, -9, -4, -1, 1.5} { // colder and warmer than the air, melting
		slopeIsDerivative(t, &dry, at)
	}
	wet := dry
	wet.wetness, wet.pressure = 0.6, 980
	for _, at := range []float64{-4, -1} {
		slopeIsDerivative(t, &wet, at)
	}
}

func slopeIsDerivative(t *testing.T, s *surface, at float64) {
	t.Helper()
	const step = 1e-4
	up, _ := s.flux(at + step)
	down, _ := s.flux(at - step)
	_, slope := s.flux(at)
	assert.InEpsilon(t, (up-down)/(2*step), slope, 1e-5, "%v °C", at)
}

// A snow skin on a calm clear night, dry, by hand: at -20 °C it sends out
// 0.98·5.6704e-8·253.15⁴ = 228.218 W/m² and takes 2 W/m²/K·10 K from air at
// -10 °C, so that 208.218 W/m² from the sky hold it there (Stefan–Boltzmann, and
// Jordan 1991 for the calm). Snow at -15 °C behind 1 W/m²/K gives it 5 W/m² more.
func TestTheSnowSkinOfAClearNight(t *testing.T) {
	s := surface{absorbed: 208.218, emissivity: 0.98, airC: -10, windless: windlessWm2K, pressure: standardHPa, melting: true}
	assert.InDelta(t, -20, s.alone(-5, 0, 0), 0.01)
	s.absorbed -= 5
	assert.InDelta(t, -20, s.alone(-5, 1, -15), 0.01)
}

// Dew and frost bring the heat of sublimation, evaporation takes it. By hand, at
// 1013.25 hPa, 10 W/m²/K and air under -2 °C: 2.834e6·0.622/(1005·1013.25) = 1.73098
// kelvin a hPa, so 2 hPa less than saturation take 34.62 W/m² from a wet surface,
// half of it from one half wet, and 2 hPa more bring all of it.
func TestLatentHeat(t *testing.T) {
	s := surface{airC: -10, wetness: 0.5, pressure: 1013.25}
	es, _ := saturation(-8)
	for vapour, want := range map[float64]float64{es - 2: 17.31, es + 2: -34.62} {
		s.vapourHPa = vapour
		q, _ := s.latent(-8, &exchange{vapour: 10})
		assert.InDelta(t, want, q, 0.01)
	}
	assert.Equal(t, 2.501e6, evaporationHeat(0))
	assert.InDelta(t, (2.501e6+2.834e6)/2, evaporationHeat(-1), 1)
	assert.Equal(t, 2.834e6, evaporationHeat(-2))
}

// A melting skin stays at 0 °C, dry ground in the same sun does not.
func TestAMeltingSkinStaysAtZero(t *testing.T) {
	s := surface{absorbed: 900, emissivity: 0.98, airC: 8, neutral: 10, windless: 2, louis: 5, stability: 0.02, pressure: standardHPa, melting: true}
	assert.InDelta(t, 0, s.alone(-5, 0, 0), 0.05)
	s.melting = false
	assert.Greater(t, s.alone(-5, 0, 0), 8.0)
}

// The wet and cold face that snow turns to the air: Oke 1987.
func TestTheTopOfSnowIsSnow(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	bare := g.top(&loamAt45, &Dressing{}, &shelteredAir{windMS: 2, airC: -5, sunWm2: 100, skyWm2: 200})
	g.Snow.setDepth(0.2, -5)
	snow := g.top(&loamAt45, &Dressing{}, &shelteredAir{windMS: 2, airC: -5, sunWm2: 100, skyWm2: 200})
	assert.False(t, bare.melting)
	assert.True(t, snow.melting)
	assert.Equal(t, 0.98, snow.emissivity)
	assert.Equal(t, 1.0, snow.wetness)
	assert.InDelta(t, (1-0.85)*100+0.98*200, snow.absorbed, 1e-9, "fresh snow: albedo 0.85 (USACE 1956)")
	g.Snow = Snow{}
	g.Snow.setDepth(0.025, -5)
	thin := g.top(&loamAt45, &Dressing{}, &shelteredAir{windMS: 2, airC: -5, sunWm2: 100, skyWm2: 0})
	ground := g.Snow
	g.Snow = Snow{}
	none := g.top(&loamAt45, &Dressing{}, &shelteredAir{windMS: 2, airC: -5, sunWm2: 100, skyWm2: 0})
	assert.InDelta(t, (15+none.absorbed)/2, thin.absorbed, 1e-9, "half of what masks the ground: %v", ground)
}

// On a clear calm night the skin of deep snow falls well below the air: by 5 to
// 12 K (Oke 1987 and others, from memory).
func TestSnowSkinUnderAClearSky(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	for range 14 {
		h := hourOf(g.At(), -8, 0, 0.5)
		h.SnowDepth = unit.Some(30.0)
		require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
	}
	assert.Less(t, g.SkinC, -13.0)
	assert.Greater(t, g.SkinC, -20.0)
}
