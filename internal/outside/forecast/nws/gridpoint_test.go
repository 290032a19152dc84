package nws

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// document is a small grid with the layers given as JSON.
func document(layers string) []byte {
	return fmt.Appendf(nil, `{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[-93.3,45.0],[-93.3,44.9],[-93.1,44.9],[-93.1,45.0],[-93.3,45.0]]]},
"properties":{"updateTime":"2026-01-12T09:13:00+00:00","elevation":{"unitCode":"wmoUnit:m","value":259.08},"gridId":"MPX","gridX":"108","gridY":72%s}}`, layers)
}

func parse(t *testing.T, layers string) weather.Forecast {
	t.Helper()
	g, err := ParseGridpoint(document(layers))
	require.NoError(t, err)
	return g.Forecast
}

// temperatures is a temperature layer with a unit and values as JSON.
func temperatures(uom, values string) string {
	return fmt.Sprintf(`,"temperature":{%s"values":[%s]}`, uom, values)
}

func value(validTime, v string) string {
	return fmt.Sprintf(`{"validTime":%q,"value":%s}`, validTime, v)
}

const degC = `"uom":"wmoUnit:degC",`

func TestFrameOfAGrid(t *testing.T) {
	f := parse(t, temperatures(degC, value("2026-01-12T06:00:00+00:00/PT3H", "-6.5")))
	assert.Equal(t, "nws", f.Source)
	assert.Equal(t, "MPX/108,72", f.Place, "one number is a string, the other not")
	assert.Equal(t, time.Date(2026, 1, 12, 9, 13, 0, 0, time.UTC), f.Issued)
	assert.Equal(t, unit.Some(259.08), f.Elevation)
	assert.InDelta(t, 44.95, f.Latitude, 1e-9)
	assert.InDelta(t, -93.2, f.Longitude, 1e-9)
	assert.Equal(t, Credit, f.Credit)
	assert.Len(t, f.Layers[weather.Air], 3)
	assert.Empty(t, f.Refused)
	assert.Empty(t, f.Warnings)
}

func TestUnitsAreReadByTheirLabels(t *testing.T) {
	for _, c := range []struct {
		uom  string
		v    string
		want float64
		ok   bool
	}{
		{`"uom":"wmoUnit:degC",`, "-10", -10, true},
		{`"uom":"unit:degC",`, "-10", -10, true},
		{`"uom":"nwsUnit:degF",`, "14", -10, true},
		{`"uom":"https://codes.wmo.int/common/unit/K",`, "263.15", -10, true},
		{`"uom":"wmoUnit:degC",`, `"-10"`, -10, true}, // a number as a string
		{`"uom":"wmoUnit:degR",`, "-10", 0, false},
		{`"uom":"wmoUnit:km_h-1",`, "-10", 0, false},
		{``, "-10", 0, false},
		{`"uom":null,`, "-10", 0, false},
		{`"uom":7,`, "-10", 0, false},
	} {
		f := parse(t, temperatures(c.uom, value("2026-01-12T06:00:00Z/PT1H", c.v))+`,"skyCover":{"uom":"wmoUnit:percent","values":[`+value("2026-01-12T06:00:00Z/PT1H", "50")+`]}`)
		if !c.ok {
			require.Len(t, f.Refused, 1, c.uom)
			assert.Equal(t, "temperature", f.Refused[0].Layer)
			assert.NotContains(t, f.Layers, weather.Air)
			assert.Equal(t, unit.Some(0.5), f.Layers[weather.Cloud][0].Value, "the other layer is kept")
			continue
		}
		assert.Empty(t, f.Refused, c.uom)
		assert.InDelta(t, c.want, f.Layers[weather.Air][0].Value.Else(99), 1e-9, c.uom)
	}
}

func TestEmptyLayersAreNormal(t *testing.T) {
	for _, layer := range []string{`{"values":[]}`, `{"uom":"wmoUnit:degC","values":[]}`, `{}`, `null`, `{"values":null}`} {
		f := parse(t, `,"minTemperature":`+layer)
		assert.Empty(t, f.Refused, layer)
		assert.NotContains(t, f.Layers, weather.AirMin)
	}
	assert.Empty(t, parse(t, `,"hazards":{"values":[{"validTime":"nonsense","value":[]}]},"newThing":7`).Refused, "layers that are not read cannot harm")
}

func TestNullsArePreserved(t *testing.T) {
	f := parse(t, temperatures(degC, value("2026-01-12T06:00:00Z/PT2H", "null")+","+value("2026-01-12T08:00:00Z/PT1H", "-0.0")))
	air := f.Layers[weather.Air]
	require.Len(t, air, 3)
	assert.False(t, air[0].Value.Known() || air[1].Value.Known())
	v, ok := air[2].Value.Get()
	assert.True(t, ok)
	assert.Zero(t, v)
	assert.Empty(t, f.Refused)
}

func TestSuspectLayersAreRefusedByName(t *testing.T) {
	const at = "2026-01-12T06:00:00Z/PT1H"
	const next = "2026-01-12T07:00:00Z/PT1H"
	for _, c := range []struct{ name, values, says string }{
		{"200 °C", value(at, "-3") + "," + value(next, "200"), "values[1]: value 200"},
		{"thousands", value(at, "-9999"), "suspect"},
		{"a word", value(at, `"cold"`), "not a number"},
		{"a list", value(at, `[1]`), "not a number"},
		{"overlap with different values", value("2026-01-12T06:00:00Z/PT3H", "-3") + "," + value(next, "-4"), "overlap"},
		{"no slash", value("2026-01-12T06:00:00Z", "1"), "slash"},
		{"a relative date", value("date:now -3 minutes/PT1H", "1"), `validTime: "date:now -3 minutes"`},
		{"a month", value("2026-01-12T06:00:00Z/P1M", "1"), "duration"},
		{"a hundred days", value("2026-01-12T06:00:00Z/P100D", "1"), "longer than"},
		{"start and end", value("2026-01-12T06:00:00Z/2026-01-12T07:00:00Z", "1"), "duration"},
		{"no validTime", `{"value":1}`, "slash"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := parse(t, temperatures(degC, c.values))
			require.Len(t, f.Refused, 1)
			assert.Equal(t, "temperature", f.Refused[0].Layer)
			assert.Contains(t, f.Refused[0].Reason, c.says)
			assert.ErrorContains(t, fetch.Usable(f), "temperature")
		})
	}
	assert.Equal(t, "temperature", parse(t, `,"temperature":[1,2]`).Refused[0].Layer, "not a layer at all")
}

func TestOrderAndRepeatsDoNotMatter(t *testing.T) {
	f := parse(t, temperatures(degC, value("2026-01-12T08:00:00Z/PT1H", "-2")+","+value("2026-01-12T06:00:00Z/PT2H", "-3")+","+value("2026-01-12T07:00:00Z/PT1H", "-3")))
	air := f.Layers[weather.Air]
	require.Len(t, air, 3, "the same said twice is no contradiction")
	for i, want := range []float64{-3, -3, -2} {
		assert.Equal(t, unit.Some(want), air[i].Value)
	}
}

func TestTotalsStayTotals(t *testing.T) {
	const six = "2026-01-12T06:00:00Z/PT6H"
	f := parse(t, `,"quantitativePrecipitation":{"uom":"wmoUnit:mm","values":[`+value(six, "6")+`]},"snowfallAmount":{"uom":"wmoUnit:m","values":[`+value(six, "0.06")+`]}`)
	require.Len(t, f.Layers[weather.Precip], 1)
	assert.Equal(t, unit.Some(6.0), f.Layers[weather.Precip][0].Value)
	assert.InDelta(t, 60, f.Layers[weather.Snowfall][0].Value.Else(0), 1e-9)
	f = parse(t, `,"quantitativePrecipitation":{"uom":"wmoUnit:mm","values":[`+value(six, "6")+","+value("2026-01-12T07:00:00Z/PT1H", "6")+`]}`)
	assert.Equal(t, "quantitativePrecipitation", f.Refused[0].Layer, "overlapping totals would count twice")
}

func TestDurations(t *testing.T) {
	for _, c := range []struct {
		text string
		want time.Duration
	}{
		{"PT1H", time.Hour}, {"P1D", 24 * time.Hour}, {"P7DT14H", 182 * time.Hour}, {"P1DT4H", 28 * time.Hour}, {"PT30M", 30 * time.Minute}, {"PT1H30M", 90 * time.Minute}, {"PT48H", 48 * time.Hour},
	} {
		got, err := ParseDuration(c.text)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, c.text)
	}
	for _, bad := range []string{"P1M", "P1Y", "PT", "P", "", "P1DT", "PT0H", "-PT1H", "PT-1H", "1H", "PT1.5H", "P1DPT4H", "PT1H ", "pt1h", "P1W", "PT99999999999H", "NOW"} {
		_, err := ParseDuration(bad)
		assert.Error(t, err, "%q", bad)
	}
}

func TestOffsetsAreSpelledInSeveralWays(t *testing.T) {
	want := time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC)
	for _, s := range []string{"2026-01-12T06:00:00Z", "2026-01-12T06:00:00+00:00", "2026-01-11T23:00:00-07:00", "2026-01-12T06:00:00.000Z"} {
		start, end, err := parseInterval(s + "/PT1H")
		require.NoError(t, err)
		assert.Equal(t, want, start, s)
		assert.Equal(t, want.Add(time.Hour), end)
	}
	for _, s := range []string{"2026-01-12T06:00:00/PT1H", "2026-01-12 06:00:00Z/PT1H", "2026-13-12T06:00:00Z/PT1H", "/PT1H", "/"} {
		_, _, err := parseInterval(s)
		assert.Error(t, err, s)
	}
}

// A night window is hours of standard time; across a change of the clocks its
// local span reads an hour more or less, its length does not.
func TestWindowAcrossAChangeOfTheClocks(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	for _, c := range []struct {
		validTime, from, to string
		wall                int // hours by the clock on the wall
	}{
		{"2026-03-08T01:00:00+00:00/PT14H", "19:00", "10:00", 15}, // clocks go forward
		{"2026-11-01T01:00:00+00:00/PT14H", "20:00", "09:00", 13}, // and back
		{"2026-01-12T01:00:00+00:00/PT14H", "19:00", "09:00", 14},
	} {
		f := parse(t, `,"minTemperature":{"uom":"wmoUnit:degC","values":[`+value(c.validTime, "-3")+`]}`)
		w := f.Layers[weather.AirMin][0]
		assert.Equal(t, 14*time.Hour, w.End.Sub(w.Start))
		a, b := w.Start.In(chicago), w.End.In(chicago)
		assert.Equal(t, c.from, a.Format("15:04"))
		assert.Equal(t, c.to, b.Format("15:04"))
		wall := time.Date(b.Year(), b.Month(), b.Day(), b.Hour(), 0, 0, 0, time.UTC).Sub(time.Date(a.Year(), a.Month(), a.Day(), a.Hour(), 0, 0, 0, time.UTC))
		assert.Equal(t, time.Duration(c.wall)*time.Hour, wall)
	}
}

func TestBrokenFrames(t *testing.T) {
	for name, c := range map[string]struct{ body, says string }{
		"empty":             {"", "not a JSON object"},
		"truncated":         {string(document(""))[:80], "not a JSON object"},
		"trailing text":     {string(document("")) + "oops", "not a JSON object"},
		"list":              {"[]", "not a JSON object"},
		"nothing in it":     {"{}", "updateTime"},
		"relative date":     {`{"properties":{"updateTime":"date:now"}}`, `properties.updateTime: "date:now"`},
		"no zone":           {`{"properties":{"updateTime":"2026-01-12T06:00:00"}}`, "properties.updateTime"},
		"properties a list": {`{"properties":[1]}`, "properties"},
	} {
		_, err := ParseGridpoint([]byte(c.body))
		assert.ErrorContains(t, err, c.says, name)
	}
}

func TestPolygons(t *testing.T) {
	inside := forecast.Point{Latitude: 44.95, Longitude: -93.2}
	for _, c := range []struct {
		name, geometry string
		holds, warns   bool
	}{
		{"GeoJSON", `{"type":"Polygon","coordinates":[[[-93.3,45],[-93.3,44.9],[-93.1,44.9],[-93.1,45],[-93.3,45]]]}`, true, false},
		{"with heights", `{"type":"Polygon","coordinates":[[[-93.3,45,1],[-93.3,44.9,1],[-93.1,44.9,1],[-93.1,45,1],[-93.3,45,1]]]}`, true, false},
		{"well-known text", `"POLYGON((-93.3 45,-93.3 44.9,-93.1 44.9,-93.1 45,-93.3 45))"`, true, false},
		{"not closed", `"POLYGON ((-93.3 45,-93.3 44.9,-93.1 44.9,-93.1 45))"`, true, false},
		{"elsewhere", `{"type":"Polygon","coordinates":[[[10,10],[12,10],[12,12],[10,12],[10,10]]]}`, false, false},
		{"none", `null`, true, false},
		{"a point", `{"type":"Point","coordinates":[-93.2,44.95]}`, true, true},
		{"a line", `{"type":"Polygon","coordinates":[[[1,1],[2,2]]]}`, true, true},
		{"half corners", `{"type":"Polygon","coordinates":[[[1],[2]]]}`, true, true},
		{"no polygon in the text", `"POINT(1 2)"`, true, true},
		{"words", `"POLYGON((a b,c d,e f))"`, true, true},
		{"one number", `"POLYGON((1,2,3))"`, true, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			g, err := ParseGridpoint(fmt.Appendf(nil, `{"geometry":%s,"properties":{"updateTime":"2026-01-12T06:00:00Z"}}`, c.geometry))
			require.NoError(t, err)
			assert.Equal(t, c.holds, g.Holds(inside))
			assert.Equal(t, c.warns, len(g.Forecast.Warnings) == 1)
		})
	}
	g, err := ParseGridpoint(document(""))
	require.NoError(t, err)
	assert.True(t, g.Holds(forecast.Point{Latitude: 45.0005, Longitude: -93.2}), "on the border, within the rounding of corners")
	assert.False(t, g.Holds(forecast.Point{Latitude: 45.01, Longitude: -93.2}))
}

func TestJSONLDIsReadToo(t *testing.T) {
	geo := string(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT1H", "-3"))))
	_, props, _ := strings.Cut(geo, `"properties":{`)
	g, err := ParseGridpoint([]byte(`{"@context":[],"geometry":"POLYGON((-93.3 45,-93.3 44.9,-93.1 44.9,-93.1 45,-93.3 45))",` + strings.TrimSuffix(props, "}")))
	require.NoError(t, err)
	assert.Equal(t, "MPX/108,72", g.Forecast.Place)
	assert.Len(t, g.Forecast.Layers[weather.Air], 1)
	assert.True(t, g.Holds(forecast.Point{Latitude: 44.95, Longitude: -93.2}))
}

// A second issue, warmer by 1.67 K (3 °F), as happened on the day after the MPX
// document: each document stands for itself.
func TestTheNextIssueMayBeWarmer(t *testing.T) {
	const night = "2026-01-15T01:00:00+00:00/PT14H"
	first := parse(t, `,"minTemperature":{`+degC+`"values":[`+value(night, "-23.88888888888889")+`]}`)
	second := parse(t, `,"minTemperature":{`+degC+`"values":[`+value(night, "-22.22222222222222")+`]}`)
	a, _ := first.Layers[weather.AirMin][0].Value.Get()
	b, _ := second.Layers[weather.AirMin][0].Value.Get()
	assert.InDelta(t, 1.67, b-a, 0.005)
}

func FuzzGridpoint(f *testing.F) {
	f.Add(document(temperatures(degC, value("2026-01-12T06:00:00Z/PT3H", "-6.5"))))
	f.Add(document(temperatures("", value("x/P1D", "null"))))
	f.Add([]byte(`{"geometry":"POLYGON((1 2,3 4,5 6))","updateTime":"2026-01-12T06:00:00Z"}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		g, err := ParseGridpoint(body)
		if err != nil {
			return
		}
		g.Holds(forecast.Point{Latitude: 45, Longitude: -93})
		checkLayers(t, g.Forecast)
	})
}

// checkLayers holds for whatever was read: in order, no overlap, believable.
func checkLayers(t *testing.T, f weather.Forecast) {
	for q, layer := range f.Layers {
		for i, iv := range layer {
			if !iv.End.After(iv.Start) || i > 0 && iv.Start.Before(layer[i-1].End) {
				t.Fatalf("%s: interval %d out of order", q, i)
			}
			if v, ok := iv.Value.Get(); ok && (q == weather.Air || q == weather.AirMin) && !(v >= -80 && v <= 60) {
				t.Fatalf("%s: %v", q, v)
			}
		}
	}
}

func FuzzDuration(f *testing.F) {
	for _, s := range []string{"PT1H", "P7DT14H", "P1M", "PT", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseDuration(s); err == nil && d <= 0 {
			t.Fatalf("%q gave %v", s, d)
		}
	})
}
