package farm

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

var (
	trondheim = Field{Latitude: 63.43, Longitude: 10.40}
	unplaced  = unit.None[Point]()
)

func point(zone string) unit.Maybe[Point] {
	return unit.Some(Point{Latitude: 63.4, Longitude: 10.4, Elevation: unit.Some(120.0), TimeZone: zone})
}

// The field's own zone, else the service's, else that of the coordinates.
func TestTheZoneOfAField(t *testing.T) {
	own := trondheim
	own.TimeZone = "Europe/Stockholm"
	wrong := trondheim
	wrong.TimeZone = "Mars/Base"
	for _, x := range []struct {
		field Field
		point unit.Maybe[Point]
		zone  string
	}{
		{own, point("Europe/Copenhagen"), "Europe/Stockholm"},
		{trondheim, point("Europe/Copenhagen"), "Europe/Copenhagen"},
		{trondheim, point(""), "Europe/Oslo"},
		{trondheim, unplaced, "Europe/Oslo"},
		{wrong, unplaced, "Europe/Oslo"},
		{Field{Latitude: math.NaN(), Longitude: math.Inf(1)}, unplaced, "UTC"},
	} {
		p := PlaceOf(x.field, x.point)
		assert.Equal(t, x.zone, p.Zone.String())
		assert.False(t, p.ByLongitude && x.zone != "UTC")
	}
	sea := PlaceOf(Field{Latitude: 45, Longitude: -35}, unplaced)
	assert.Equal(t, "Etc/GMT+2", sea.Zone.String())
	assert.True(t, sea.ByLongitude)
	assert.Equal(t, -2*time.Hour, offset(sea.Zone))
}

func offset(zone *time.Location) time.Duration {
	_, s := time.Unix(0, 0).In(zone).Zone()
	return time.Duration(s) * time.Second
}

// Twelve o'clock UTC is one o'clock in Norway: the night has begun.
func TestTheNightHasTheNameOfItsPlace(t *testing.T) {
	at := time.Date(2025, 11, 4, 11, 30, 0, 0, time.UTC)
	assert.Equal(t, Day("2025-11-04"), NightOf(at, PlaceOf(trondheim, unplaced).Zone))
	assert.Equal(t, Day("2025-11-03"), NightOf(at, time.UTC))
}

func TestOtherFactsOfAPlace(t *testing.T) {
	given := Field{Latitude: 63.43, Longitude: 10.40, Elevation: unit.Some(0.0), Soil: "peat", LowSpot: 1.5}
	p := PlaceOf(given, point(""))
	assert.Equal(t, 0.0, p.ElevationM, "its own counts, sea level too")
	assert.Equal(t, "peat", p.Soil)
	assert.Equal(t, unit.Kelvins(1.5), p.LowSpot)
	assert.Equal(t, [2]float64{63.4, 10.4}, [2]float64{p.Latitude, p.Longitude}, "of the forecast point: fields share its ground")
	bare := PlaceOf(trondheim, point(""))
	assert.Equal(t, 120.0, bare.ElevationM)
	assert.Equal(t, DefaultSoil, bare.Soil)
	assert.Equal(t, 63.43, PlaceOf(trondheim, unplaced).Latitude)
}

// The whole farm's lists go by its own zone if somebody set it, UTC too; else by
// the first field's.
func TestTheZoneOfAFarm(t *testing.T) {
	f := New("Hill Farm", time.Unix(0, 0))
	assert.Equal(t, time.UTC, f.Zone(), "no field yet")
	assert.Equal(t, "Europe/Oslo", f.Zone(PlaceOf(trondheim, unplaced), PlaceOf(Field{Latitude: 45, Longitude: -93}, unplaced)).String())
	f.TimeZone = "UTC"
	assert.Equal(t, "UTC", f.Zone(PlaceOf(trondheim, unplaced)).String())
	f.TimeZone = "Mars/Base"
	assert.Equal(t, "Europe/Oslo", f.Zone(PlaceOf(trondheim, unplaced)).String())
}

func TestNamesOfZones(t *testing.T) {
	for _, name := range []string{"", "Local", "Mars/Base", "../etc/passwd"} {
		_, err := ParseZone(name)
		require.ErrorContains(t, err, "America/New_York", name)
		assert.Equal(t, time.UTC, ZoneTold(name), name)
	}
	z, err := ParseZone("Europe/Oslo")
	require.NoError(t, err)
	assert.Equal(t, z, ZoneTold("Europe/Oslo"))
}
