package microclimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

func TestHumidityReferenceValues(t *testing.T) {
	for _, r := range []struct {
		air, humidity, dew, tolerance float64
		source                        string
	}{
		{25, 0.54, 15.049, 0.001, "worked example, Alduchov & Eskridge 1996 constants"},
		{0, 0.80, -3.039, 0.01, "computed apart from the same constants"},
		{-5, 0.70, -9.626, 0.01, "computed apart from the same constants"},
		{-10, 0.90, -11.328, 0.01, "computed apart from the same constants"},
	} {
		assert.InDelta(t, r.dew, float64(DewPoint(unit.Celsius(r.air), r.humidity)), r.tolerance, r.source)
	}
	// Saturation tables of WMO-No. 188 give 2.863 and 2.599 hPa at -10 °C (from memory); the
	// Magnus form differs by 0.2 %.
	assert.InDelta(t, 2.868, SaturationOverWater(-10), 0.002)
	assert.InDelta(t, 2.597, SaturationOverIce(-10), 0.002)
	for _, r := range []struct{ air, dew, wet float64 }{{0, -5, -1.74}, {2, -6, -0.78}, {10, 0, 5.59}} {
		assert.InDelta(t, r.wet, float64(WetBulb(unit.Celsius(r.air), unit.Celsius(r.dew))), 0.05)
	}
}

func TestFrostNightRegression(t *testing.T) {
	// Snyder & de Melo-Abreu 2005, the ten nights of the worked example.
	r, err := FitNights(
		[]unit.Celsius{3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6},
		[]unit.Celsius{-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1},
		[]unit.Celsius{-3.1, -5, -6.3, -5.4, -4, -2.5, -4.8, -5, -4.4, -3.3})
	require.NoError(t, err)
	assert.InDelta(t, 0.5028121, r.A, 1e-5)
	assert.InDelta(t, 0.0264716, r.B, 1e-5)
	assert.InDelta(t, -5.8219867, r.C, 1e-5)
	assert.InDelta(t, -0.7409219, float64(r.Predict(10, 2)), 1e-5)
}
