package nws

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/weather"
)

// corpus reads a file of the test data kept outside the repository.
func corpus(t testing.TB, path string) []byte {
	t.Helper()
	dir := os.Getenv("WINTERSTAND_CORPUS")
	if dir == "" {
		t.Skip("WINTERSTAND_CORPUS is not set: real NWS documents are not checked")
	}
	b, err := os.ReadFile(filepath.Join(dir, "forecasts", path))
	require.NoError(t, err)
	return b
}

// expected are the numbers read from the real documents with an independent
// program (EXPECTED.json beside them).
type expected struct {
	UpdateTime   time.Time `json:"updateTime"`
	Segments     int       `json:"temperature_segments"`
	Hours        int       `json:"temperature_hours_after_expansion"`
	First        time.Time `json:"first_hour"`
	Last         time.Time `json:"last_hour"`
	ColdestHour  []any     `json:"coldest_hour"`
	ColdestMin   []any     `json:"coldest_minTemperature"`
	Snow         float64   `json:"snowfall_total_mm"`
	QPF          float64   `json:"qpf_total_mm"`
	HeatNulls    int       `json:"heatIndex_nulls"`
	ChillNulls   int       `json:"windChill_nulls"`
	GridXType    string    `json:"gridX_json_type"`
	PastHours    int       `json:"past_hours_before_updateTime"`
	ValidTimes   string    `json:"validTimes"`
	documentName string
}

func expectations(t *testing.T) []expected {
	var all map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(corpus(t, "EXPECTED.json"), &all))
	var out []expected
	for name, raw := range all {
		if filepath.Dir(name) != "nws" {
			continue
		}
		var e expected
		require.NoError(t, json.Unmarshal(raw, &e))
		e.documentName = "nws/gridpoint_raw_" + filepath.Base(name) + ".json"
		out = append(out, e)
	}
	require.Len(t, out, 3)
	return out
}

func TestRealGridpoints(t *testing.T) {
	for _, e := range expectations(t) {
		t.Run(e.documentName, func(t *testing.T) {
			body := corpus(t, e.documentName)
			g, err := ParseGridpoint(body)
			require.NoError(t, err)
			f := g.Forecast
			assert.Empty(t, f.Refused)
			assert.Equal(t, e.UpdateTime.UTC(), f.Issued)
			air := f.Layers[weather.Air]
			require.Len(t, air, e.Hours)
			assert.Equal(t, e.First.UTC(), air[0].Start)
			assert.Equal(t, e.Last.UTC(), air[len(air)-1].Start)
			past := 0
			for i, iv := range air {
				assert.Equal(t, time.Hour, iv.End.Sub(iv.Start))
				assert.True(t, i == 0 || air[i-1].End.Equal(iv.Start), "contiguous at %s", iv.Start)
				if !iv.End.After(f.Issued) {
					past++
				}
			}
			assert.Equal(t, e.PastHours, past)
			at, v := coldest(air)
			assert.Equal(t, e.ColdestHour[0], at.Start.Format("2006-01-02T15:04:05+00:00"))
			assert.InDelta(t, e.ColdestHour[1], v, 0.0006)
			at, v = coldest(f.Layers[weather.AirMin])
			start, end, err := parseInterval(e.ColdestMin[0].(string))
			require.NoError(t, err)
			assert.Equal(t, []time.Time{start, end}, []time.Time{at.Start, at.End})
			assert.InDelta(t, e.ColdestMin[1], v, 0.0006)
			assert.InDelta(t, e.Snow, sum(f.Layers[weather.Snowfall]), 1e-6)
			assert.InDelta(t, e.QPF, sum(f.Layers[weather.Precip]), 1e-6)
			start, end, err = parseInterval(e.ValidTimes)
			require.NoError(t, err)
			assert.Equal(t, e.First.UTC(), start)
			assert.Equal(t, e.Last.Add(time.Hour).UTC(), end)
			checkRaw(t, body, e)
		})
	}
}

// checkRaw looks at layers that the forecast does not keep, through the same
// layer reader.
func checkRaw(t *testing.T, body []byte, e expected) {
	props, _, err := content(body)
	require.NoError(t, err)
	var raw map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(props, &raw))
	var temperature layer
	require.NoError(t, json.Unmarshal(raw["temperature"], &temperature))
	assert.Len(t, temperature.Values, e.Segments)
	for name, want := range map[string]int{"heatIndex": e.HeatNulls, "windChill": e.ChillNulls} {
		values, err := readLayer(raw[name], weather.Air, extreme)
		require.NoError(t, err)
		nulls := 0
		for _, iv := range values {
			if !iv.Value.Known() {
				nulls++
			}
		}
		assert.Equal(t, want, nulls, name)
	}
	assert.Equal(t, e.GridXType == "str", raw["gridX"][0] == '"')
}

func coldest(layer []weather.Interval) (at weather.Interval, v float64) {
	v = 1000
	for _, iv := range layer {
		if x, ok := iv.Value.Get(); ok && x < v {
			at, v = iv, x
		}
	}
	return at, v
}

func sum(layer []weather.Interval) (s float64) {
	for _, iv := range layer {
		s += iv.Value.Else(0)
	}
	return s
}

// What the issues of the service's documents say about single documents.
func TestRealGridpointQuirks(t *testing.T) {
	mpx, err := ParseGridpoint(corpus(t, "nws/gridpoint_raw_MPX_108_72_20240111.json"))
	require.NoError(t, err)
	assert.Equal(t, "MPX/108,72", mpx.Forecast.Place)
	assert.InDelta(t, 259.08, mpx.Forecast.Elevation.Else(0), 1e-9)
	assert.InDelta(t, 2.572, mpx.Forecast.Layers[weather.Wind][0].Value.Else(0), 0.001, "9.26 km/h")
	assert.InDelta(t, 0.92, mpx.Forecast.Layers[weather.Humidity][0].Value.Else(0), 1e-9)

	fgz, err := ParseGridpoint(corpus(t, "nws/gridpoint_raw_FGZ_74_89_20240220.json"))
	require.NoError(t, err)
	mins, air := fgz.Forecast.Layers[weather.AirMin], fgz.Forecast.Layers[weather.Air]
	last := mins[len(mins)-1]
	assert.True(t, last.Start.After(air[len(air)-1].End), "the last minimum lies beyond the hourly horizon")
	assert.Len(t, fgz.Forecast.Layers[weather.Precip], 32)
	assert.Len(t, fgz.Forecast.Layers[weather.Snowfall], 31)
	cell, err := ParsePoint(corpus(t, "nws/points_35.198_-111.651_FGZ.json"))
	require.NoError(t, err)
	cell.Latitude, cell.Longitude = 35.198, -111.651
	assert.True(t, fgz.Holds(cell.Point()))
	assert.False(t, mpx.Holds(cell.Point()))
}

// In real documents the stated night minimum is often below every hour of its
// window; the hours made of both must reach it, and the nights must not be lost
// where the window lies beyond the hours.
func TestNightMinimaReachTheHours(t *testing.T) {
	hidden, worst := 0, 0.0
	for _, e := range expectations(t) {
		g, err := ParseGridpoint(corpus(t, e.documentName))
		require.NoError(t, err)
		mins := g.Forecast.Layers[weather.AirMin]
		from, to := g.Forecast.Layers[weather.Air][0].Start, mins[len(mins)-1].End
		hours := weather.Hours(g.Forecast, from, to)
		assert.Empty(t, weather.Holes(hours, from, to), e.documentName)
		bare := g.Forecast
		bare.Layers = map[weather.Quantity][]weather.Interval{weather.Air: g.Forecast.Layers[weather.Air]}
		plain := weather.Hours(bare, from, to)
		for _, w := range mins {
			want := w.Value.Else(1000)
			assert.LessOrEqual(t, coldestHour(hours, w), want+1e-9, "%s %s", e.documentName, w.Start)
			if d := coldestHour(plain, w) - want; d > 0.01 && d < 100 {
				hidden, worst = hidden+1, max(worst, d)
			}
		}
	}
	t.Logf("%d windows state a minimum below every hour, by up to %.2f K", hidden, worst)
	assert.Positive(t, hidden)
	assert.InDelta(t, 2.2, worst, 0.05, "MPX, nights of 16 and 17 January 2024")
}

// coldestHour within a window; 1000 when the window has none.
func coldestHour(hours []weather.Hour, w weather.Interval) float64 {
	v := 1000.0
	for _, h := range hours {
		if !h.At.Before(w.Start) && h.At.Before(w.End) {
			v = min(v, float64(h.Air.Else(1000)))
		}
	}
	return v
}
