package microclimate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
)

func TestDewPoint(t *testing.T) {
	for _, r := range []struct {
		air, humidity, dew, tolerance float64
		source                        string
	}{
		{25, 0.54, 15.049, 0.001, "published worked example of the Magnus form with 17.625 and 243.04"},
		{0, 0.80, -3.039, 0.01, "the same equation worked apart from this code"},
		{-5, 0.70, -9.626, 0.01, "the same equation worked apart from this code"},
		{-10, 0.90, -11.328, 0.01, "the same equation worked apart from this code"},
	} {
		assert.InDelta(t, r.dew, float64(DewPoint(unit.Celsius(r.air), r.humidity)), r.tolerance, r.source)
	}
	assert.False(t, DewPoint(10, 0).Finite(), "dry air has no dew point")
	assert.False(t, DewPoint(10, math.NaN()).Finite())
}

func TestSaturation(t *testing.T) {
	// Alduchov & Eskridge 1996, eq. 21.
	assert.InDelta(t, 2.868, satWater(-10), 0.002)
	// WMO-No. 8, Goff–Gratch values, from memory: within 0.4 %, the error Alduchov & Eskridge state.
	assert.InEpsilon(t, 23.37, satWater(20), 0.004)
	assert.InEpsilon(t, 6.107, satWater(0), 0.004)
}

func TestWetBulb(t *testing.T) {
	// Psychrometer equation of WMO-No. 8 worked apart from this code; tolerance 0.05 K.
	for _, r := range []struct{ air, dew, wet float64 }{{0, -5, -1.74}, {2, -6, -0.78}, {10, 0, 5.59}} {
		assert.InDelta(t, r.wet, float64(WetBulb(unit.Celsius(r.air), unit.Celsius(r.dew))), 0.05)
	}
	assert.Equal(t, unit.Celsius(4), WetBulb(4, 4))
	assert.Equal(t, unit.Celsius(4), WetBulb(4, 6), "more than saturated")
}

func TestWetBulbLiesBetweenDewAndAir(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air := rapid.Float64Range(-40, 40).Draw(t, "air")
		dew := air - rapid.Float64Range(0, 30).Draw(t, "depression")
		wet := float64(WetBulb(unit.Celsius(air), unit.Celsius(dew)))
		if wet < dew-1e-9 || wet > air+1e-9 {
			t.Fatalf("wet bulb %v outside %v..%v", wet, dew, air)
		}
	})
}

func TestWindChill(t *testing.T) {
	// NWS wind chill chart (2001), °F and mph, 1 °F.
	for _, r := range []struct{ air, mph, chill float64 }{{0, 15, -19}, {-10, 55, -46}, {20, 15, 6}, {40, 5, 36}} {
		got := WindChill(unit.FromFahrenheit(r.air), r.mph*0.44704).Fahrenheit()
		assert.InDelta(t, r.chill, got, 1, "%v °F %v mph", r.air, r.mph)
	}
	// Environment Canada's metric formula.
	assert.InDelta(t, -32.57, float64(WindChill(-20, 30/3.6)), 0.01)
	assert.Equal(t, unit.FromFahrenheit(51), WindChill(unit.FromFahrenheit(51), 10), "not defined above 50 °F")
	assert.Equal(t, unit.Celsius(-20), WindChill(-20, 3*0.44704), "not defined at 3 mph")
	assert.Equal(t, unit.Celsius(-20), WindChill(-20, math.NaN()), "no wind known")
}
