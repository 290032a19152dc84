package metno

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// corpus reads a file of the test data kept outside the repository.
func corpus(t testing.TB, path string) []byte {
	t.Helper()
	dir := os.Getenv("WINTERSTAND_CORPUS")
	if dir == "" {
		t.Skip("WINTERSTAND_CORPUS is not set: real MET Norway documents are not checked")
	}
	b, err := os.ReadFile(filepath.Join(dir, "forecasts", path))
	require.NoError(t, err)
	return b
}

// expected are the numbers read from the real documents with an independent
// program (EXPECTED.json beside them).
type expected struct {
	Coordinates []float64      `json:"coords_lon_lat_alt"`
	UpdatedAt   time.Time      `json:"updated_at"`
	Steps       int            `json:"steps"`
	First       time.Time      `json:"first"`
	Last        time.Time      `json:"last"`
	StepHours   map[string]int `json:"step_hours"`
	MinAir      float64        `json:"min_air_temperature"`
	MinP10      *float64       `json:"min_p10"`
	StepsP10    int            `json:"steps_with_p10"`
	NoFog       int            `json:"steps_without_fog"`
	Next1       int            `json:"steps_with_next_1"`
	Next6       int            `json:"steps_with_next_6"`
	Min6        int            `json:"steps_with_6h_tmin"`
	LastKeys    []string       `json:"last_step_keys"`
}

func TestRealDocuments(t *testing.T) {
	var all map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(corpus(t, "EXPECTED.json"), &all))
	checked := 0
	for name, raw := range all {
		if filepath.Dir(name) != "metno" {
			continue
		}
		checked++
		var e expected
		require.NoError(t, json.Unmarshal(raw, &e))
		t.Run(name, func(t *testing.T) { checkReal(t, corpus(t, name+".json"), e) })
	}
	assert.Equal(t, 2, checked)
}

func checkReal(t *testing.T, body []byte, e expected) {
	f, err := Parse(body)
	require.NoError(t, err)
	assert.Empty(t, f.Refused)
	assert.Equal(t, e.UpdatedAt.UTC(), f.Issued)
	assert.Equal(t, e.Coordinates, []float64{f.Longitude, f.Latitude, f.Elevation.Else(-1)})
	air := f.Layers[weather.Air]
	require.Len(t, air, e.Steps)
	assert.Equal(t, e.First.UTC(), air[0].Start)
	assert.Equal(t, e.Last.UTC(), air[len(air)-1].Start)
	assert.InDelta(t, e.MinAir, lowest(air), 1e-9)
	steps := map[string]int{}
	for _, iv := range air[:len(air)-1] {
		steps[fmt.Sprintf("%.0f", iv.End.Sub(iv.Start).Hours())]++
	}
	assert.Equal(t, e.StepHours, steps)
	assert.Len(t, f.Layers[weather.AirP10], e.StepsP10)
	if e.MinP10 != nil {
		assert.InDelta(t, *e.MinP10, lowest(f.Layers[weather.AirP10]), 1e-9)
		assert.Len(t, f.Layers[weather.AirP90], e.StepsP10)
	}
	checkSteps(t, body, e)
}

// checkSteps looks at what the forecast does not keep, in the decoded steps.
func checkSteps(t *testing.T, body []byte, e expected) {
	var doc document
	require.NoError(t, json.Unmarshal(body, &doc))
	var noFog, next1, next6, min6 int
	for _, s := range doc.Properties.Series {
		if _, ok := s.Data.Instant.Details["fog_area_fraction"]; !ok {
			noFog++
		}
		if s.Data.Next1 != nil {
			next1++
		}
		if s.Data.Next6 != nil {
			next6++
		}
		if _, ok := s.Data.Next6.detail("air_temperature_min"); ok {
			min6++
		}
	}
	assert.Equal(t, []int{e.NoFog, e.Next1, e.Next6, e.Min6}, []int{noFog, next1, next6, min6})
	var raw struct {
		Properties struct {
			Timeseries []struct{ Data map[string]any }
		}
	}
	require.NoError(t, json.Unmarshal(body, &raw))
	var keys []string
	for k := range raw.Properties.Timeseries[len(raw.Properties.Timeseries)-1].Data {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	assert.Equal(t, e.LastKeys, keys)
}

func lowest(layer []weather.Interval) float64 {
	v := 1000.0
	for _, iv := range layer {
		v = min(v, iv.Value.Else(1000))
	}
	return v
}

// In the London document the six-hour minimum lies below both neighbouring
// instants in 10 of 26 coarse steps, by up to 2.3 K; the hours made of it must
// reach each of them.
func TestTheTailsMinimaAreNotLost(t *testing.T) {
	f, err := Parse(corpus(t, "metno/complete_51.5_-0.1_20200720_body.json"))
	require.NoError(t, err)
	assert.Empty(t, f.Warnings)
	mins := f.Layers[weather.AirMin]
	require.Len(t, mins, 26)
	hours := weather.Hours(f, mins[0].Start, mins[25].End)
	assert.Empty(t, weather.Holes(hours, mins[0].Start, mins[25].End))
	instants := map[int64]float64{}
	for _, iv := range f.Layers[weather.Air] {
		instants[iv.Start.Unix()] = iv.Value.Else(1000)
	}
	hidden, worst := 0, 0.0
	for i, w := range mins {
		want := w.Value.Else(1000)
		got := 1000.0
		for _, h := range hours[6*i : 6*i+6] {
			got = min(got, float64(h.Air.Else(1000)))
		}
		assert.LessOrEqual(t, got, want+1e-9)
		if d := min(instants[w.Start.Unix()], instants[w.End.Unix()]) - want; d > 0 {
			hidden++
			worst = max(worst, d)
		}
	}
	assert.Equal(t, 10, hidden)
	assert.InDelta(t, 2.3, worst, 1e-9)
	total := 0.0
	for _, iv := range f.Layers[weather.Precip] {
		total += iv.Value.Else(1000)
	}
	assert.InDelta(t, 2.5, total, 1e-9, "hourly 0 mm and six-hourly 2.5 mm, overlap not counted")
}

const allUnits = `{"air_temperature":"celsius","air_temperature_min":"celsius","air_temperature_max":"celsius","dew_point_temperature":"celsius","relative_humidity":"%","cloud_area_fraction":"%","wind_speed":"m/s","precipitation_amount":"mm","air_temperature_percentile_10":"celsius","air_temperature_percentile_90":"celsius"}`

// document0 is a small document from steps as JSON.
func document0(units string, steps ...string) []byte {
	return fmt.Appendf(nil, `{"type":"Feature","geometry":{"type":"Point","coordinates":[9.58,60.1,496]},"properties":{"meta":{"updated_at":"2026-01-12T05:30:00Z","units":%s},"timeseries":[%s]}}`, units, strings.Join(steps, ","))
}

// at is a step at an hour of 12 January with members of data.
func at(hour int, data string) string {
	return fmt.Sprintf(`{"time":"2026-01-%02dT%02d:00:00Z","data":{%s}}`, 12+hour/24, hour%24, data)
}

func instant(air string) string { return `"instant":{"details":{"air_temperature":` + air + `}}` }

func TestHourlyThenSixHourly(t *testing.T) {
	f, err := Parse(document0(allUnits,
		at(6, instant("-3")+`,"next_1_hours":{"details":{"precipitation_amount":1}},"next_6_hours":{"details":{"precipitation_amount":9,"air_temperature_min":-9}}`),
		at(7, instant("-4.5")+`,"next_1_hours":{"summary":{"symbol_code":"snow","symbol_confidence":"certain"},"details":{"precipitation_amount":0}}`),
		at(8, instant("-5")+`,"next_12_hours":{"details":{}},"next_6_hours":{"details":{"precipitation_amount":6,"air_temperature_min":-8,"air_temperature_max":-4}}`),
		at(14, instant("-0.0")+`,"next_6_hours":{"details":{"precipitation_amount":0,"air_temperature_min":-1}}`),
		at(20, instant("2")),
	))
	require.NoError(t, err)
	assert.Empty(t, f.Refused)
	assert.Empty(t, f.Warnings)
	assert.Equal(t, "60.1,9.58", f.Place)
	assert.Equal(t, unit.Some(496.0), f.Elevation)
	spans := func(q weather.Quantity) (out []string) {
		for _, iv := range f.Layers[q] {
			out = append(out, fmt.Sprintf("%s+%.0fh=%g", iv.Start.Format("15"), iv.End.Sub(iv.Start).Hours(), iv.Value.Else(99)+0))
		}
		return out
	}
	assert.Equal(t, []string{"06+1h=-3", "07+1h=-4.5", "08+6h=-5", "14+6h=0", "20+1h=2"}, spans(weather.Air))
	assert.Equal(t, []string{"08+6h=-8", "14+6h=-1"}, spans(weather.AirMin), "hourly steps need none")
	assert.Equal(t, []string{"08+6h=-4"}, spans(weather.AirMax))
	assert.Equal(t, []string{"06+1h=1", "07+1h=0", "08+6h=6", "14+6h=0"}, spans(weather.Precip), "never an overlap")
}

// An hourly step without its own amount, followed by steps that have one: the
// six hours' amount would count theirs twice.
func TestSixHoursAreNotSummedWithHours(t *testing.T) {
	f, err := Parse(document0(allUnits,
		at(6, instant("1")+`,"next_6_hours":{"details":{"precipitation_amount":6}}`),
		at(7, instant("1")+`,"next_1_hours":{"details":{"precipitation_amount":1}}`),
		at(8, instant("1")+`,"next_6_hours":{"details":{"precipitation_amount":3}}`),
		at(9, instant("1")+`,"next_6_hours":{"details":{"precipitation_amount":3}}`),
	))
	require.NoError(t, err)
	require.Len(t, f.Layers[weather.Precip], 2)
	assert.Equal(t, 7, f.Layers[weather.Precip][0].Start.Hour())
	assert.Equal(t, 8, f.Layers[weather.Precip][1].Start.Hour())
	hours := weather.Hours(f, f.Layers[weather.Air][0].Start, f.Layers[weather.Air][3].End)
	assert.False(t, hours[0].Precip.Known(), "what is not known stays missing")
	assert.InDelta(t, 0.5, hours[2].Precip.Else(-1), 1e-9)
}

func TestMissingMinimaAreTold(t *testing.T) {
	f, err := Parse(document0(allUnits, at(6, instant("1")), at(12, instant("2")), at(18, instant("3")+`,"next_6_hours":{"details":{"air_temperature_min":1}}`), at(24, instant("1"))))
	require.NoError(t, err)
	require.Len(t, f.Warnings, 1)
	assert.Contains(t, f.Warnings[0], "coarse: from 2026-01-12T06:00:00Z on, 2 steps")
	hours := weather.Hours(f, f.Layers[weather.Air][0].Start, f.Layers[weather.Air][1].Start)
	assert.Len(t, hours, 6)
	assert.InDelta(t, 1.5, float64(hours[3].Air.Else(99)), 1e-9, "the instants are what there is")
}

func TestUnitsMustBeTheDocumentedOnes(t *testing.T) {
	both := `"instant":{"details":{"air_temperature":20,"wind_speed":3}}`
	f, err := Parse(document0(`{"air_temperature":"fahrenheit","wind_speed":"m/s"}`, at(6, both)))
	require.NoError(t, err)
	assert.Equal(t, []weather.Refusal{{Layer: "air_temperature", Reason: `unit "fahrenheit": not one of ["celsius"]`, Why: weather.BadUnit, Quote: "fahrenheit"}}, f.Refused)
	assert.Equal(t, unit.Some(3.0), f.Layers[weather.Wind][0].Value, "the other layer is kept")
	f, err = Parse(document0(`{"air_temperature":"celsius"}`, at(6, both)))
	require.NoError(t, err)
	require.Len(t, f.Refused, 1)
	assert.Equal(t, "wind_speed", f.Refused[0].Layer, "no unit at all")
}

func TestOddValues(t *testing.T) {
	f, err := Parse(document0(allUnits, at(6, instant("null")), at(7, instant("-0.0")), at(8, instant(`"3"`)), at(9, `"instant":{}`), at(10, `"instant":{"details":{}}`), at(11, instant("4")+`,"brand_new":[]`)))
	require.NoError(t, err)
	air := f.Layers[weather.Air]
	require.Len(t, air, 4)
	assert.False(t, air[0].Value.Known())
	assert.True(t, air[1].Value.Known())
	assert.Equal(t, unit.Some(3.0), air[2].Value)
	assert.Equal(t, 9, air[2].End.Hour(), "a step without the value is a hole")
	f, err = Parse(document0(allUnits, at(6, instant("200"))))
	require.NoError(t, err)
	assert.Contains(t, f.Refused[0].Reason, "suspect")
}

func TestPlacesOfTwoNumbers(t *testing.T) {
	body := strings.Replace(string(document0(allUnits, at(6, instant("1")))), "[9.58,60.1,496]", "[9.58,60.1]", 1)
	f, err := Parse([]byte(body))
	require.NoError(t, err)
	assert.False(t, f.Elevation.Known())
	assert.InDelta(t, 60.1, f.Latitude, 1e-9)
}

func TestStepsAreSorted(t *testing.T) {
	f, err := Parse(document0(allUnits, at(8, instant("3")), at(6, instant("1")), at(7, instant("2"))))
	require.NoError(t, err)
	assert.Equal(t, 6, f.Layers[weather.Air][0].Start.Hour())
}

func TestBrokenDocuments(t *testing.T) {
	good := string(document0(allUnits, at(6, instant("1"))))
	for name, c := range map[string]struct{ body, says string }{
		"empty":         {"", "not a forecast"},
		"truncated":     {good[:90], "not a forecast"},
		"trailing text": {good + "x", "not a forecast"},
		"no place":      {strings.Replace(good, "[9.58,60.1,496]", "[]", 1), "geometry.coordinates"},
		"no issue":      {strings.Replace(good, `"updated_at"`, `"x"`, 1), "updated_at"},
		"bad step":      {strings.Replace(good, "2026-01-12T06:00:00Z", "soon", 1), "timeseries[0].time"},
		"two at a time": {string(document0(allUnits, at(6, instant("1")), at(6, instant("2")))), "two steps"},
		"a word":        {strings.Replace(good, `"air_temperature":1`, `"air_temperature":"warm"`, 1), "not a number"},
	} {
		_, err := Parse([]byte(c.body))
		assert.ErrorContains(t, err, c.says, name)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(document0(allUnits, at(6, instant("1")+`,"next_1_hours":{"details":{"precipitation_amount":1}}`), at(12, instant("2")+`,"next_6_hours":{"details":{"air_temperature_min":-1}}`), at(18, instant("2"))))
	f.Fuzz(func(t *testing.T, body []byte) {
		doc, err := Parse(body)
		if err != nil {
			return
		}
		for q, layer := range doc.Layers {
			for i, iv := range layer {
				if !iv.End.After(iv.Start) || i > 0 && iv.Start.Before(layer[i-1].End) {
					t.Fatalf("%s: interval %d out of order", q, i)
				}
			}
		}
	})
}
