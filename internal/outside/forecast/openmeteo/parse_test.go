package openmeteo

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/forecast"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var now = time.Date(2026, 1, 12, 6, 20, 0, 0, time.UTC)

// corpus reads a file of the test data kept outside the repository.
func corpus(t testing.TB, path string) []byte {
	t.Helper()
	dir := os.Getenv("WINTERSTAND_CORPUS")
	if dir == "" {
		t.Skip("WINTERSTAND_CORPUS is not set: real Open-Meteo documents are not checked")
	}
	b, err := os.ReadFile(filepath.Join(dir, "forecasts", path))
	require.NoError(t, err)
	return b
}

// expected are the numbers read from the real documents with an independent
// program (EXPECTED.json beside them).
type expected struct {
	Hours    int     `json:"hours"`
	First    string  `json:"first_label"`
	Last     string  `json:"last_label"`
	Offset   int64   `json:"utc_offset_seconds"`
	Min      float64 `json:"min_temperature_2m"`
	Unit     string  `json:"unit"`
	Series   int     `json:"series"`
	Nulls    int     `json:"nulls"`
	Has8Mar2 bool    `json:"has_label_2026-03-08T02:00"`
}

func expectation(t *testing.T, name string) (e expected) {
	var all map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(corpus(t, "EXPECTED.json"), &all))
	require.Contains(t, all, name)
	require.NoError(t, json.Unmarshal(all[name], &e))
	return e
}

// utc is a label with the document's fixed offset, as an instant.
func (e expected) utc(t *testing.T, label string) time.Time {
	at, err := time.Parse("2006-01-02T15:04", label)
	require.NoError(t, err)
	return at.Add(-time.Duration(e.Offset) * time.Second)
}

// The Toronto document: Fahrenheit, inches, labels that include an hour that
// does not exist there (2026-03-08 02:00, the clocks go forward).
func TestRealForecastWithLabels(t *testing.T) {
	const name = "openmeteo/forecast_toronto_20260304_fahrenheit_inch"
	e, body := expectation(t, name), corpus(t, name+".json")
	f, err := Parse(body, nil, now)
	require.NoError(t, err)
	assert.Empty(t, f.Refused)
	air := f.Layers[weather.Air]
	require.Len(t, air, e.Hours)
	assert.Equal(t, e.utc(t, e.First), air[0].Start)
	assert.Equal(t, e.utc(t, e.Last), air[len(air)-1].Start)
	low := 1000.0
	for i, iv := range air {
		low = min(low, iv.Value.Else(1000))
		assert.Equal(t, air[0].Start.Add(time.Duration(i)*time.Hour), iv.Start, "hours of UTC, none skipped or doubled")
	}
	assert.InDelta(t, (e.Min-32)/1.8, low, 1e-9)
	var b block
	require.NoError(t, json.Unmarshal(body, &b))
	assert.Equal(t, e.Unit, b.Units["temperature_2m"])
	assert.Len(t, b.Hourly, e.Series+1, "and the time axis")
	assert.Equal(t, e.Has8Mar2, strings.Contains(string(b.Hourly["time"]), "2026-03-08T02:00"))

	toronto, err := time.LoadLocation("America/Toronto")
	require.NoError(t, err)
	missing := e.utc(t, "2026-03-08T02:00")
	assert.Equal(t, "03:00", missing.In(toronto).Format("15:04"), "the hour that does not exist is the one after")
	total := 0.0
	for _, iv := range f.Layers[weather.Precip] {
		total += iv.Value.Else(0)
	}
	assert.InDelta(t, 2.043*25.4, total, 1e-6)
	assert.Equal(t, air[0].Start.Add(-time.Hour), f.Layers[weather.Precip][0].Start, "of the hour before the stamp")
	assert.Equal(t, unit.Some(165.0), f.Elevation)
}

func TestRealEnsemble(t *testing.T) {
	const name = "openmeteo/ensemble_single_model_20261003"
	e, body := expectation(t, name), corpus(t, name+".json")
	f, err := ParseEnsemble(body, nil, now)
	require.NoError(t, err)
	require.Len(t, f.Members, 21, "20 members and the control run")
	assert.Equal(t, "control", f.Members[0].Name)
	assert.Equal(t, "member20", f.Members[20].Name)
	low := 1000.0
	for _, m := range f.Members {
		require.Len(t, m.Air, e.Hours)
		for _, iv := range m.Air {
			low = min(low, iv.Value.Else(1000))
		}
	}
	assert.InDelta(t, e.Min, low, 1e-9)
	var b block
	require.NoError(t, json.Unmarshal(body, &b))
	assert.Len(t, b.Hourly, e.Series+1)
}

// doc is a document in the form we ask for, with hourly fields as JSON.
func doc(units, fields string) []byte {
	return fmt.Appendf(nil, `{"latitude":44.9,"longitude":-93.2,"elevation":257.0,"utc_offset_seconds":0,"timezone":"GMT","hourly_units":{"time":"unixtime"%s},"hourly":{"time":[%d,%d,%d]%s}}`,
		units, now.Unix()-1200, now.Unix()+2400, now.Unix()+6000, fields)
}

func parsed(t *testing.T, units, fields string) weather.Forecast {
	t.Helper()
	f, err := Parse(doc(units, fields), nil, now)
	require.NoError(t, err)
	return f
}

func TestTheFormWeAskFor(t *testing.T) {
	f := parsed(t, `,"temperature_2m":"°C","dew_point_2m":"°C","relative_humidity_2m":"%","cloud_cover":"%","wind_speed_10m":"m/s","precipitation":"mm","snowfall":"cm","snow_depth":"m","shortwave_radiation":"W/m²"`,
		`,"temperature_2m":[-1,-0,null],"dew_point_2m":[-3,-3,-3],"relative_humidity_2m":[80,90,100],"cloud_cover":[0,50,100],"wind_speed_10m":[1,2,3],"precipitation":[0,0.5,1],"snowfall":[0,0.7,0],"snow_depth":[0,0.3,0.3],"shortwave_radiation":[-0.2,100,200]`)
	assert.Empty(t, f.Refused)
	assert.Equal(t, "44.9,-93.2", f.Place)
	assert.Equal(t, now, f.Issued)
	six := now.Truncate(time.Hour)
	hours := weather.Hours(f, six, six.Add(3*time.Hour))
	assert.Equal(t, unit.Some(unit.Celsius(-1)), hours[0].Air)
	assert.True(t, hours[1].Air.Known(), "-0 is a value")
	assert.False(t, hours[2].Air.Known(), "null is not")
	assert.Equal(t, unit.Some(0.5), hours[0].Precip, "the sum stamped 07:00 fell from 06:00 on")
	assert.Equal(t, unit.Some(1.0), hours[1].Precip)
	assert.False(t, hours[2].Precip.Known())
	assert.Equal(t, unit.Some(100.0), hours[0].Shortwave)
	assert.Equal(t, unit.Some(0.0), f.Layers[weather.Shortwave][0].Value, "a slight negative is none")
	assert.InDelta(t, 7, f.Layers[weather.Snowfall][1].Value.Else(0), 1e-9, "0.7 cm in mm of depth")
	assert.InDelta(t, 30, hours[1].SnowDepth.Else(0), 1e-9)
	assert.Equal(t, unit.Some(0.5), hours[1].Cloud)
}

func TestLayersThatCannotBeReliedOn(t *testing.T) {
	for _, c := range []struct{ name, units, fields, says string }{
		{"fewer values than times", `,"temperature_2m":"°C"`, `,"temperature_2m":[1,2]`, "2 values for 3 times"},
		{"unknown unit", `,"temperature_2m":"°X"`, `,"temperature_2m":[1,2,3]`, `unit "°X"`},
		{"no unit", ``, `,"temperature_2m":[1,2,3]`, `unit ""`},
		{"another quantity's unit", `,"temperature_2m":"inch"`, `,"temperature_2m":[1,2,3]`, `unit "inch"`},
		{"impossible", `,"temperature_2m":"°C"`, `,"temperature_2m":[1,2,200]`, "suspect"},
		{"words", `,"temperature_2m":"°C"`, `,"temperature_2m":[1,2,"x"]`, "not a number"},
		{"not a list", `,"temperature_2m":"°C"`, `,"temperature_2m":{}`, "not a list"},
	} {
		f := parsed(t, c.units+`,"wind_speed_10m":"m/s"`, c.fields+`,"wind_speed_10m":[1,2,3]`)
		require.Len(t, f.Refused, 1, c.name)
		assert.Equal(t, "temperature_2m", f.Refused[0].Layer)
		assert.Contains(t, f.Refused[0].Reason, c.says, c.name)
		assert.Len(t, f.Layers[weather.Wind], 3, "the other layer is kept")
	}
}

func TestUnitsOfOtherSettings(t *testing.T) {
	f := parsed(t, `,"temperature_2m":"°F","windspeed_10m":"mp/h","precipitation":"inch","snow_depth":"ft"`,
		`,"temperature_2m":[14,14,14],"windspeed_10m":[10,10,10],"precipitation":[0.1,0.1,0.1],"snow_depth":[1,1,1]`)
	assert.Empty(t, f.Refused)
	assert.InDelta(t, -10, f.Layers[weather.Air][0].Value.Else(0), 1e-9)
	assert.InDelta(t, 4.4704, f.Layers[weather.Wind][0].Value.Else(0), 1e-9, "the old spelling of the field too")
	assert.InDelta(t, 2.54, f.Layers[weather.Precip][0].Value.Else(0), 1e-9)
	assert.InDelta(t, 30.48, f.Layers[weather.SnowDepth][0].Value.Else(0), 1e-9)
}

func TestFieldsWithTheNameOfAModel(t *testing.T) {
	body := doc(`,"temperature_2m_icon_eu":"°C","temperature_2m_gfs_seamless":"°C"`, `,"temperature_2m_icon_eu":[null,null,null],"temperature_2m_gfs_seamless":[1,2,3]`)
	f, err := Parse(body, []string{"icon_eu", "gfs_seamless"}, now)
	require.NoError(t, err)
	assert.Equal(t, unit.Some(1.0), f.Layers[weather.Air][0].Value, "the first that has values")
	f, err = Parse(body, nil, now)
	require.NoError(t, err)
	assert.NotContains(t, f.Layers, weather.Air, "not asked for")
}

func TestFailuresToldInTheDocumentPass(t *testing.T) {
	good := string(doc(`,"temperature_2m":"°C"`, `,"temperature_2m":[1,2,3]`))
	for name, c := range map[string]struct{ body, says string }{
		"error in JSON":  {`{"error":true,"reason":"Data corrupted at path ''"}`, "Data corrupted"},
		"text after it":  {good + "Unexpected error while streaming data: timeoutReached", "timeoutReached"},
		"text within it": {good[:150] + "Unexpected error while streaming data: x", "breaks off"},
		"truncated":      {good[:150], "breaks off"},
	} {
		_, err := Parse([]byte(c.body), nil, now)
		assert.ErrorIs(t, err, forecast.ErrUnavailable, name)
		assert.ErrorContains(t, err, c.says, name)
		_, err = ParseEnsemble([]byte(c.body), nil, now)
		assert.ErrorIs(t, err, forecast.ErrUnavailable, name)
	}
}

func TestRoots(t *testing.T) {
	good := string(doc(`,"temperature_2m":"°C"`, `,"temperature_2m":[1,2,3]`))
	f, err := Parse([]byte("["+good+"]"), nil, now)
	require.NoError(t, err)
	assert.Len(t, f.Layers[weather.Air], 3)
	for _, bad := range []string{"[]", "[" + good + "," + good + "]", "7", `"x"`, "[7]", `{"hourly":7}`} {
		_, err := Parse([]byte(bad), nil, now)
		assert.Error(t, err, bad)
		assert.NotErrorIs(t, err, forecast.ErrUnavailable, bad)
	}
	f, err = Parse([]byte(strings.Replace(good, `"elevation":257.0,`, "", 1)), nil, now)
	require.NoError(t, err)
	assert.False(t, f.Elevation.Known())
}

func TestTimes(t *testing.T) {
	for name, c := range map[string]struct{ unit, times, says string }{
		"no unit":        {"", "[1]", "hourly_units.time"},
		"no times":       {"unixtime", "", "hourly.time: missing"},
		"labels as told": {"unixtime", `["2026-01-12T00:00"]`, "hourly.time"},
		"broken label":   {"iso8601", `["12 Jan"]`, "hourly.time[0]"},
		"backwards":      {"unixtime", "[3600,0]", "not after"},
	} {
		times := ""
		if c.times != "" {
			times = `"time":` + c.times
		}
		_, err := Parse(fmt.Appendf(nil, `{"hourly_units":{"time":%q},"hourly":{%s}}`, c.unit, times), nil, now)
		assert.ErrorContains(t, err, c.says, name)
	}
	// A January document fetched in summer carries the summer offset all the same.
	f, err := Parse([]byte(`{"utc_offset_seconds":7200,"timezone":"Europe/Amsterdam","hourly_units":{"time":"iso8601","temperature_2m":"°C"},"hourly":{"time":["2024-01-10T00:00"],"temperature_2m":[1]}}`), nil, now)
	require.NoError(t, err)
	assert.Equal(t, time.Date(2024, 1, 9, 22, 0, 0, 0, time.UTC), f.Layers[weather.Air][0].Start)
}

func TestMembers(t *testing.T) {
	for _, c := range []struct {
		key   string
		asked []string
		want  string
	}{
		{"temperature_2m", nil, "control"},
		{"temperature_2m_member07", nil, "member07"},
		{"temperature_2m_member07_ecmwf_ifs025_ensemble", []string{"ecmwf_ifs025"}, "ecmwf_ifs025_ensemble/member07"},
		{"temperature_2m_icon_seamless_eps", []string{"icon_seamless_eps"}, "icon_seamless_eps/control"},
		{"temperature_2m_icon_seamless_eps", nil, "icon_seamless_eps/control"},
		{"temperature_2m_spread", []string{"icon_seamless"}, ""},
		{"temperature_850hPa", nil, ""},
		{"temperature_850hPa_member01", nil, ""},
		{"time", nil, ""},
	} {
		got, ok := memberOf(c.key, c.asked)
		assert.Equal(t, c.want, got, c.key)
		assert.Equal(t, c.want != "", ok, c.key)
	}
}

func TestEnsembleOfTwoModels(t *testing.T) {
	units, fields := "", ""
	add := func(key, values string) {
		units += fmt.Sprintf(`,%q:"°C"`, key)
		fields += fmt.Sprintf(`,%q:%s`, key, values)
	}
	add("temperature_2m_a_eps", "[1,2,3]")
	add("temperature_2m_member01_a_eps", "[1,null,null]")
	add("temperature_2m_member01_b_eps", "[null,null,null]")
	add("temperature_2m_member02_b_eps", "[1,2]")
	f, err := ParseEnsemble(doc(units, fields), []string{"a_eps", "b_eps"}, now)
	require.NoError(t, err)
	var names []string
	for _, m := range f.Members {
		names = append(names, m.Name)
	}
	assert.Equal(t, []string{"a_eps/control", "a_eps/member01"}, names, "one without any value is no member")
	assert.False(t, f.Members[1].Air[1].Value.Known(), "horizons differ")
	require.Len(t, f.Refused, 1)
	assert.Equal(t, "temperature_2m_member02_b_eps", f.Refused[0].Layer)
	_, err = ParseEnsemble(doc("", ""), nil, now)
	assert.ErrorContains(t, err, "no ensemble members")
	_, err = ParseEnsemble([]byte(`{"hourly_units":{}}`), nil, now)
	assert.Error(t, err)
}

func FuzzParse(f *testing.F) {
	f.Add(doc(`,"temperature_2m":"°C"`, `,"temperature_2m":[1,null,3]`))
	f.Add([]byte(`[{"utc_offset_seconds":-18000,"hourly_units":{"time":"iso8601","temperature_2m":"°F"},"hourly":{"time":["2026-03-08T02:00"],"temperature_2m":[26.5]}}]`))
	f.Fuzz(func(t *testing.T, body []byte) {
		doc, err := Parse(body, nil, now)
		if err == nil {
			for q, layer := range doc.Layers {
				for i, iv := range layer {
					if !iv.End.After(iv.Start) || i > 0 && iv.Start.Before(layer[i-1].End) {
						t.Fatalf("%s: interval %d out of order", q, i)
					}
				}
			}
		}
		_, _ = ParseEnsemble(body, nil, now)
	})
}
