package nws

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

func observe(t testing.TB, body string) []Observation {
	t.Helper()
	list, _, err := ParseObservations([]byte(body))
	require.NoError(t, err)
	return list
}

// single is a list of one report with the members given.
func single(members string) string {
	return `{"features":[{"properties":{"timestamp":"2026-01-12T15:53:00+00:00"` + members + `}}]}`
}

func TestRealObservations(t *testing.T) {
	msp := observe(t, string(corpus(t, "nws/observations_KMSP_20240112.json")))
	require.Len(t, msp, 1)
	assert.Equal(t, time.Date(2024, 1, 12, 15, 53, 0, 0, time.UTC), msp[0].At)
	assert.InDelta(t, -13.3, float64(msp[0].Air.Else(99)), 1e-9)
	assert.InDelta(t, -18.3, float64(msp[0].DewPoint.Else(99)), 1e-9)
	assert.InDelta(t, 4.6, msp[0].Wind.Else(99), 1e-9, "16.56 km/h")
	assert.Equal(t, unit.Some(1.0), msp[0].Cloud, "overcast above few and scattered")
	assert.False(t, msp[0].Precip.Known(), "null is not zero")

	flg := observe(t, string(corpus(t, "nws/observations_KFLG_20240220.json")))
	assert.InDelta(t, 6.7, float64(flg[0].Air.Else(99)), 1e-9)
	assert.InDelta(t, 14*0.514444, flg[0].Wind.Else(99), 1e-4, "null in the fields, 14 kt in the METAR")
	assert.Equal(t, unit.Some(0.0), flg[0].Cloud)

	assert.Empty(t, observe(t, string(corpus(t, "nws/observations_empty_PPIZ.json"))))
}

func TestObservationsInOddShapes(t *testing.T) {
	assert.Empty(t, observe(t, `{"features":null}`))
	assert.Empty(t, observe(t, `{}`))
	for _, c := range []struct {
		name, members string
		air           unit.Maybe[unit.Celsius]
	}{
		{"value missing", `,"temperature":{"unitCode":"wmoUnit:degC","qualityControl":"V"}`, unit.None[unit.Celsius]()},
		{"value as a string", `,"temperature":{"unitCode":"unit:degC","value":"-13.3","qualityControl":"V"}`, unit.Some(unit.Celsius(-13.3))},
		{"in Fahrenheit", `,"temperature":{"unitCode":"wmoUnit:degF","value":14,"qualityControl":"C"}`, unit.Some(unit.Celsius(-10))},
		{"unknown unit", `,"temperature":{"unitCode":"wmoUnit:degX","value":14,"qualityControl":"V"}`, unit.None[unit.Celsius]()},
		{"impossible", `,"temperature":{"unitCode":"wmoUnit:degC","value":-300,"qualityControl":"V"}`, unit.None[unit.Celsius]()},
		{"nothing", ``, unit.None[unit.Celsius]()},
		{"null with Z, METAR has it", `,"rawMessage":"KMSP 121553Z 35009KT RMK AO2 T11331183","temperature":{"unitCode":"wmoUnit:degC","value":null,"qualityControl":"Z"}`, unit.Some(unit.Celsius(-13.3))},
		{"null with V, METAR has it", `,"rawMessage":"KMSP 121553Z RMK T00671061","temperature":{"unitCode":"wmoUnit:degC","value":null,"qualityControl":"V"}`, unit.Some(unit.Celsius(6.7))},
		{"null with Z, METAR without tenths", `,"rawMessage":"KMSP 121553Z M13/M18 RMK AO2","temperature":{"unitCode":"wmoUnit:degC","value":null,"qualityControl":"Z"}`, unit.None[unit.Celsius]()},
		{"rejected: the METAR says no more", `,"rawMessage":"KMSP RMK T11331183","temperature":{"unitCode":"wmoUnit:degC","value":-13.3,"qualityControl":"X"}`, unit.None[unit.Celsius]()},
	} {
		t.Run(c.name, func(t *testing.T) {
			list := observe(t, single(c.members))
			require.Len(t, list, 1)
			v, ok := list[0].Air.Get()
			want, wanted := c.air.Get()
			assert.Equal(t, wanted, ok)
			assert.InDelta(t, float64(want), float64(v), 1e-9)
		})
	}
}

func TestQualityControl(t *testing.T) {
	for flag, kept := range map[string]bool{"C": true, "S": true, "V": true, "G": true, "X": false, "Q": false, "B": false, "Z": false, "T": false, "": false} {
		list := observe(t, single(fmt.Sprintf(`,"temperature":{"unitCode":"wmoUnit:degC","value":-3,"qualityControl":%q}`, flag)))
		assert.Equal(t, kept, list[0].Air.Known(), flag)
	}
}

func TestBrokenObservations(t *testing.T) {
	for body, says := range map[string]string{
		``:    "observations",
		`[1]`: "observations",
		`{"features":[{"properties":{"timestamp":"date:now"}}]}`: `features[0].properties.timestamp: "date:now"`,
		single(`,"temperature":{"value":{}}`):                    "observations",
	} {
		_, _, err := ParseObservations([]byte(body))
		assert.ErrorContains(t, err, says, body)
	}
}

// report minutes after an hour with an air temperature; a METAR when raw is set.
func reportAt(minutes int, air float64, routine bool) Observation {
	base := time.Date(2026, 1, 12, 15, 0, 0, 0, time.UTC)
	return Observation{At: base.Add(time.Duration(minutes) * time.Minute), Air: unit.Some(unit.Celsius(air)), Routine: routine}
}

func TestHourlyTakesTheRoutineReportNearestToTheHour(t *testing.T) {
	got := Hourly([]Observation{
		reportAt(53, -3, true), reportAt(60, -9, false), reportAt(65, -4, true), // for 16:00
		reportAt(95, -5, false), reportAt(115, -6, false), // for 17:00
		{At: reportAt(180, 0, true).At, Routine: true}, // 18:00 without a temperature
	})
	require.Len(t, got, 2)
	assert.Equal(t, time.Date(2026, 1, 12, 16, 0, 0, 0, time.UTC), got[0].At)
	assert.Equal(t, unit.Some(unit.Celsius(-4)), got[0].Air)
	assert.Equal(t, unit.Some(unit.Celsius(-6)), got[1].Air)
}

// The service lists the newest report first; hours go the other way.
func TestHourlyGoesByTheClock(t *testing.T) {
	var list []Observation
	for h := 23; h >= 0; h-- {
		list = append(list, reportAt(60*h-7, float64(h), true))
	}
	got := Hourly(list)
	require.Len(t, got, 24)
	for h := range got {
		assert.Equal(t, time.Date(2026, 1, 12, 15, 0, 0, 0, time.UTC).Add(time.Duration(h)*time.Hour), got[h].At)
		assert.Equal(t, unit.Some(unit.Celsius(h)), got[h].Air)
	}
}

// Half an hour before the hour belongs to it, half an hour after to the next.
func TestAReportBelongsToTheNearestHour(t *testing.T) {
	for minutes, hour := range map[int]int{30: 16, 29: 15, 89: 16, 90: 17} {
		got := Hourly([]Observation{reportAt(minutes, 1, false)})
		require.Len(t, got, 1)
		assert.Equal(t, hour, got[0].At.Hour(), "%d minutes after 15:00", minutes)
	}
}

func TestRainIsOfTheHourThatHasEnded(t *testing.T) {
	a, b := reportAt(53, -3, true), reportAt(113, -3, true)
	b.Precip = unit.Some(1.2)
	got := Hourly([]Observation{a, b})
	require.Len(t, got, 2)
	assert.Equal(t, unit.Some(1.2), got[0].Precip)
	assert.False(t, got[1].Precip.Known())
}

func TestMETAR(t *testing.T) {
	for _, c := range []struct {
		raw            string
		air, dew, wind float64 // 99: missing
	}{
		{"KMSP 121553Z 35009G19KT 10SM OVC250 M13/M18 A2984 RMK AO2 SLP125 T11331183", -13.3, -18.3, 9 * 0.514444},
		{"KFLG 201757Z 20014G22KT 10SM CLR 07/M06 A3028 RMK AO2 SLP224 T00671061 10072 21033 53008", 6.7, -6.1, 14 * 0.514444},
		{"UUEE 121530Z VRB02MPS 9999", 99, 99, 2},
		{"KXXX 121553Z 00000KT RMK T00000000=", 0, 0, 0},
		{"KXXX 121553Z /////KT T1133", 99, 99, 99},
		{"", 99, 99, 99},
	} {
		m := parseMETAR(c.raw)
		assert.InDelta(t, c.air, m.air.Else(99), 1e-9, c.raw)
		assert.InDelta(t, c.dew, m.dewPoint.Else(99), 1e-9, c.raw)
		assert.InDelta(t, c.wind, m.wind.Else(99), 1e-4, c.raw)
	}
}

func TestStationLists(t *testing.T) {
	ids, err := ParseStations([]byte(`{"features":[{"properties":{"stationIdentifier":"KMSP"}},{"properties":{"stationIdentifier":"../etc"}},{"properties":{"stationIdentifier":"MN012"}}]}`))
	require.NoError(t, err)
	assert.Equal(t, []string{"KMSP", "MN012"}, ids)
	for _, bad := range []string{`{"features":[]}`, `{"features":null}`, `[]`, ``} {
		_, err := ParseStations([]byte(bad))
		assert.Error(t, err, bad)
	}
}

func TestPoints(t *testing.T) {
	fgz, err := ParsePoint(corpus(t, "nws/points_35.198_-111.651_FGZ.json"))
	require.NoError(t, err)
	assert.Equal(t, "nws:FGZ/74,89", fgz.Key)
	assert.Equal(t, "America/Phoenix", fgz.TimeZone)
	assert.Equal(t, []string{"AZZ015", "AZC005", "AZZ115"}, fgz.Meta.Zones)
	assert.Equal(t, "https://api.weather.gov/gridpoints/FGZ/74,89", fgz.Meta.URLs["forecastGridData"])
	assert.Equal(t, "https://api.weather.gov/gridpoints/FGZ/74,89/stations", fgz.Meta.URLs["observationStations"])
	mpx, err := ParsePoint(corpus(t, "nws/points_45_-93_MPX_2026.json"))
	require.NoError(t, err)
	assert.Equal(t, "nws:MPX/1,1", mpx.Key)
}

func TestPointsThatHaveNoForecast(t *testing.T) {
	for _, c := range []struct {
		body    string
		outside bool
	}{
		{`{"properties":{"gridId":"X","gridX":1,"gridY":1,"forecastGridData":"https://api.weather.gov/gridpoints/X/1,1","type":"marine"}}`, true},
		{`{"properties":{"gridId":null,"gridX":null,"gridY":null,"forecastGridData":null}}`, true},
		{`{"properties":{"gridId":"X","gridX":1,"gridY":1,"forecastGridData":"https://api.weather.gov/elsewhere"}}`, false},
		{`{"properties":{"gridId":7}}`, false}, {`[]`, false}, {``, false},
	} {
		_, err := ParsePoint([]byte(c.body))
		require.Error(t, err, c.body)
		assert.Equal(t, c.outside, strings.Contains(err.Error(), "does not cover"), c.body)
	}
	cell, err := ParsePoint([]byte(`{"properties":{"gridId":"X","gridX":"12","gridY":"7","forecastGridData":"https://api.weather.gov/gridpoints/X/12,7","radarStation":null}}`))
	require.NoError(t, err)
	assert.Equal(t, "nws:X/12,7", cell.Key, "numbers as strings")
}

func FuzzObservations(f *testing.F) {
	f.Add([]byte(single(`,"rawMessage":"T11331183","temperature":{"unitCode":"wmoUnit:degC","value":-3,"qualityControl":"V"}`)))
	f.Add([]byte(`{"features":null}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		list, _, err := ParseObservations(body)
		if err != nil {
			return
		}
		for _, h := range Hourly(list) {
			c, ok := h.Air.Get()
			if !ok || !(c >= -80 && c <= 60) || !h.At.Equal(h.At.Truncate(time.Hour)) {
				t.Fatalf("%+v", h)
			}
		}
	})
}

func FuzzPoint(f *testing.F) {
	f.Add([]byte(`{"properties":{"gridId":"X","gridX":"12","gridY":7,"forecastGridData":"https://api.weather.gov/gridpoints/X/12,7"}}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		if c, err := ParsePoint(body); err == nil && (c.Key == "" || c.Meta.URLs["forecastGridData"] == "") {
			t.Fatalf("%+v", c)
		}
	})
}

func FuzzMETAR(f *testing.F) {
	f.Add("KMSP 121553Z 35009G19KT T11331183")
	f.Fuzz(func(t *testing.T, raw string) {
		m := parseMETAR(raw)
		if v, ok := m.air.Get(); ok && (v < -80 || v > 60) {
			t.Fatal(v)
		}
	})
}
