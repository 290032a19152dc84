package forecast

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var noon = time.Date(2026, 1, 12, 12, 0, 0, 0, time.UTC)

func TestCoordinate(t *testing.T) {
	for _, c := range []struct {
		in   float64
		want string
	}{
		{44.98699, "44.9869"}, {-93.29259999, "-93.2925"}, {45, "45"}, {45.10, "45.1"}, {-0.00001, "0"}, {0, "0"},
		{-122.5354, "-122.5354"}, {59.12004, "59.12"}, {1e-9, "0"}, {-45.00009, "-45"}, {266.8 - 360, "-93.2"},
	} {
		assert.Equal(t, c.want, Coordinate(c.in), "%v", c.in)
	}
}

func TestCoordinateTruncates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-180, 180).Draw(t, "degrees")
		var got float64
		require.NoError(t, json.Unmarshal([]byte(Coordinate(v)), &got))
		if math.Abs(got) > math.Abs(v)+1e-9 || math.Abs(v-got) >= 1e-4+1e-9 {
			t.Fatalf("%v became %v", v, got)
		}
	})
}

func TestPointNormal(t *testing.T) {
	p, err := Point{Latitude: -43.5, Longitude: 266.7}.Normal()
	require.NoError(t, err)
	assert.InDelta(t, -93.3, p.Longitude, 1e-9)
	for _, bad := range []Point{{Latitude: 91}, {Latitude: math.NaN()}, {Longitude: 361}, {Longitude: -181}, {Longitude: math.NaN()}} {
		_, err := bad.Normal()
		assert.Error(t, err, "%v", bad)
	}
}

func TestStale(t *testing.T) {
	issued := noon
	f := weather.Forecast{Issued: issued}
	for _, c := range []struct {
		age  time.Duration
		want Grade
	}{
		{0, Fresh}, {12 * time.Hour, Fresh}, {12*time.Hour + 1, Aging}, {24 * time.Hour, Aging}, {24*time.Hour + 1, Expired},
		{-time.Hour, Fresh}, {-time.Hour - 1, Expired},
	} {
		got := Stale(f, issued.Add(c.age), DefaultLimits)
		assert.Equal(t, c.want, got.Grade, "%v", c.age)
	}
	assert.Equal(t, Expired, Stale(weather.Forecast{}, noon, DefaultLimits).Grade)
	assert.Equal(t, Aging, Stale(f, noon.Add(3*time.Hour), Limits{Warn: time.Hour, Unusable: 4 * time.Hour}).Grade)
}

func TestDocumentsAreKeptAsJSON(t *testing.T) {
	d := Document{
		Cell:    Cell{Source: "nws", Key: "nws:A/1,2", Elevation: unit.Some(3.0), Meta: Meta{URLs: map[string]string{"a": "b"}, Stations: []string{"K"}}, Resolved: noon},
		Fetched: noon, Expires: noon.Add(time.Hour), LastModified: "m", ETag: "e",
		Forecast: weather.Forecast{Issued: noon, Layers: map[weather.Quantity][]weather.Interval{weather.Air: {piece(0, 1, -1), {Start: at(1), End: at(2)}}}},
	}
	b, err := json.Marshal(d)
	require.NoError(t, err)
	var back Document
	require.NoError(t, json.Unmarshal(b, &back))
	assert.Equal(t, d, back)
	assert.Equal(t, Validators{LastModified: "m", ETag: "e", Expires: noon.Add(time.Hour), Issued: noon}, back.Validators())
	next := d.Renewed(Document{Cell: d.Cell, Fetched: at(1), Expires: at(2), LastModified: "n", NotModified: true})
	assert.Equal(t, Validators{LastModified: "n", Expires: at(2), Issued: noon}, next.Validators())
	assert.Equal(t, d.Forecast, next.Forecast)
	assert.False(t, next.NotModified)
	assert.Equal(t, Document{ETag: "x"}, d.Renewed(Document{ETag: "x"}))
	assert.True(t, back.Validators().Stored())
	assert.False(t, Document{}.Validators().Stored())
}

func at(h int) time.Time { return noon.Add(time.Duration(h) * time.Hour) }

func piece(a, b int, v float64) weather.Interval {
	return weather.Interval{Start: at(a), End: at(b), Value: unit.Some(v)}
}
