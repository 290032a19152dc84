package sun

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func instant(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	require.NoError(t, err)
	return at
}

// Meeus, Astronomical Algorithms, examples 25.a and 28.a, 1992 October 13 0h TD
// (from memory).
func TestPositionOfMeeusExample(t *testing.T) {
	decl, eot := position(instant(t, "1992-10-13T00:00:00Z"))
	assert.InDelta(t, -7.785, decl, 0.005)
	assert.InDelta(t, 13.71, eot, 0.03)
}

// Reference: the library astronomy-engine 2 (VSOP87 truncated, one arc minute),
// run once for these places; topocentric, hence the tolerance of the elevation.
func TestSunriseAndSunset(t *testing.T) {
	for _, c := range []struct {
		near      string
		lat, lon  float64
		rise, set string
		elevation float64 // at near
	}{
		{"2013-03-05T12:00:00Z", 50.5, 30.5, "2013-03-05T04:33:30Z", "2013-03-05T15:46:17Z", 28.778},
		{"2024-12-21T18:00:00Z", 46, -92, "2024-12-21T13:47:12Z", "2024-12-21T22:25:38Z", 20.545},
		{"2024-06-21T18:00:00Z", 46, -92, "2024-06-21T10:17:22Z", "2024-06-22T02:02:34Z", 67.345},
		{"2025-02-10T18:00:00Z", 43.04, -87.9, "2025-02-10T12:55:28Z", "2025-02-10T23:16:41Z", 32.849},
		{"2023-10-15T12:00:00Z", 60, 10, "2023-10-15T05:58:26Z", "2023-10-15T16:12:05Z", 20.632},
		{"1999-03-20T00:00:00Z", -33.9, 151.2, "1999-03-19T19:57:40Z", "1999-03-20T08:07:38Z", 45.849},
		{"1940-11-05T18:00:00Z", 43.04, -87.9, "1940-11-05T12:31:22Z", "1940-11-05T22:38:39Z", 30.885},
	} {
		t.Run(c.near, func(t *testing.T) {
			near := instant(t, c.near)
			d := On(near, c.lat, c.lon)
			require.Equal(t, Rises, d.State)
			assert.WithinDuration(t, instant(t, c.rise), d.Rise, 30*time.Second)
			assert.WithinDuration(t, instant(t, c.set), d.Set, 30*time.Second)
			assert.InDelta(t, c.elevation, Elevation(near, c.lat, c.lon), 0.02)
		})
	}
}

func TestPolarDays(t *testing.T) {
	summer := On(instant(t, "2024-06-21T12:00:00Z"), 70, 25)
	winter := On(instant(t, "2024-12-21T12:00:00Z"), 70, 25)
	assert.Equal(t, AlwaysUp, summer.State)
	assert.Equal(t, 24*time.Hour, summer.Length())
	assert.Equal(t, AlwaysDown, winter.State)
	assert.Zero(t, winter.Length())
	assert.Less(t, Elevation(winter.Noon, 70, 25), Horizon)
}

func TestSunStandsAtTheHorizonAtRiseAndSet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		near := time.Unix(rapid.Int64Range(-2e9, 4e9).Draw(t, "unix"), 0)
		lat := rapid.Float64Range(-65, 65).Draw(t, "lat")
		lon := rapid.Float64Range(-180, 180).Draw(t, "lon")
		d := On(near, lat, lon)
		if d.State != Rises {
			t.Fatalf("no sunrise at latitude %v", lat)
		}
		assert.InDelta(t, Horizon, Elevation(d.Rise, lat, lon), 0.01)
		assert.InDelta(t, Horizon, Elevation(d.Set, lat, lon), 0.01)
		assert.True(t, d.Rise.Before(d.Noon) && d.Noon.Before(d.Set))
		assert.LessOrEqual(t, d.Noon.Sub(near).Abs(), 12*time.Hour+5*time.Minute)
	})
}
