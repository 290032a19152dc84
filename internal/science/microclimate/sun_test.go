package microclimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSunElevationAgainstSPA(t *testing.T) {
	// Reda & Andreas 2004, NREL/TP-560-34302, table A5.1 (from memory): Golden,
	// Colorado, 17 October 2003 12:30:30 at UTC-7; elevation without refraction
	// 39.872046°, sunrise 06:12:43, sunset 17:20:19.
	zone := time.FixedZone("MST", -7*3600)
	at := time.Date(2003, 10, 17, 12, 30, 30, 0, zone)
	assert.InDelta(t, 39.872, SunElevation(at, 39.742476, -105.1786), 0.02)
	rise, set, up, ok := Daylight(at, 39.742476, -105.1786)
	require.True(t, ok)
	assert.True(t, up)
	assert.WithinDuration(t, time.Date(2003, 10, 17, 6, 12, 43, 0, zone), rise, 90*time.Second)
	assert.WithinDuration(t, time.Date(2003, 10, 17, 17, 20, 19, 0, zone), set, 90*time.Second)
}

func TestPolarNightAndDay(t *testing.T) {
	_, _, up, ok := Daylight(time.Date(2025, 12, 21, 12, 0, 0, 0, time.UTC), 75, 0)
	assert.False(t, ok)
	assert.False(t, up)
	_, _, up, ok = Daylight(time.Date(2025, 6, 21, 12, 0, 0, 0, time.UTC), 75, 0)
	assert.False(t, ok)
	assert.True(t, up)
}

func TestDaylightAgreesWithElevation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-60, 60).Draw(t, "latitude")
		lon := rapid.Float64Range(-170, 170).Draw(t, "longitude")
		day := time.Date(2025, 1, 1, 12, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 364).Draw(t, "day"))
		noon := day.Add(time.Duration(-lon / 15 * float64(time.Hour)))
		rise, set, _, ok := Daylight(noon, lat, lon)
		if !ok {
			t.Fatalf("no sunrise at %v", lat)
		}
		if !SunUp(rise.Add(10*time.Minute), lat, lon) || SunUp(rise.Add(-10*time.Minute), lat, lon) {
			t.Fatalf("sunrise %v is not one", rise)
		}
		if !SunUp(set.Add(-10*time.Minute), lat, lon) || SunUp(set.Add(10*time.Minute), lat, lon) {
			t.Fatalf("sunset %v is not one", set)
		}
	})
}

func TestClearSkyShortwave(t *testing.T) {
	// Haurwitz 1945 in Reno, Hansen & Stein 2012: 1098·cos z·exp(-0.057/cos z).
	assert.InDelta(t, 1037.2, ClearSkyShortwave(1), 0.1)
	assert.InDelta(t, 489.8, ClearSkyShortwave(0.5), 0.2)
	assert.Zero(t, ClearSkyShortwave(-0.1))
	// Kasten & Czeplak 1980: an overcast sky lets a quarter through.
	assert.InDelta(t, 0.25, CloudTransmission(1), 1e-12)
	assert.InDelta(t, 1, CloudTransmission(0), 1e-12)
}

func TestSkyEmissivity(t *testing.T) {
	// Prata 1996 worked apart: at 0 °C and 4.5 hPa w = 0.7661, emissivity 0.7279.
	assert.InDelta(t, 0.7279, SkyEmissivity(0, 4.5, 0), 0.0005)
	// Overcast: 84 % of the way to a black sky (Unsworth & Monteith 1975).
	assert.InDelta(t, 1-0.16*(1-0.7279), SkyEmissivity(0, 4.5, 1), 0.0005)
}

func TestShortwaveOverAnHourHoldsSunrise(t *testing.T) {
	at := time.Date(2025, 12, 1, 13, 0, 0, 0, time.UTC) // the hour of sunrise at 45 N 90 W
	assert.Greater(t, shortwaveOver(at, 45, -90, 0), 0.0)
	assert.Less(t, shortwaveOver(at, 45, -90, 0), shortwaveOver(at.Add(time.Hour), 45, -90, 0))
	assert.Zero(t, shortwaveOver(at.Add(-6*time.Hour), 45, -90, 0))
}
