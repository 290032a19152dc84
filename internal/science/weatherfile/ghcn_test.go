package weatherfile

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

func c(v float64) unit.Maybe[unit.Celsius] { return unit.Some(unit.Celsius(v)) }

// The same three days in the three forms of NOAA (readme.txt section III and
// readme-by_station.txt); the numbers are invented.
func dly(element string, days ...string) string {
	line := "USW00014839202601" + element
	for d := range 31 {
		cell := "-9999   "
		if d < len(days) {
			cell = days[d]
		}
		line += cell
	}
	return line + "\n"
}

func threeDays() []Day {
	return []Day{
		{Date: "2026-01-01", Min: c(-12.2), Max: c(-3.9), Precip: unit.Some(0.0), SnowDepth: unit.Some(15.0)},
		{Date: "2026-01-02", Max: c(1.1)},
		{Date: "2026-01-03", Min: c(-5), Snowfall: unit.Some(2.5)},
	}
}

func TestFixedForm(t *testing.T) {
	text := dly("TMIN", " -122  S", "  150 IS", "  -50  S") + dly("TMAX", "  -39  S", "   11  S") +
		dly("PRCP", "    0T S") + dly("SNOW", "-9999   ", "-9999   ", "   25  S") + dly("SNWD", "  150  S") + dly("WT01", "    1  S")
	for name, f := range map[string]string{"by name": "x.dly", "by its first line": "x.txt"} {
		t.Run(name, func(t *testing.T) {
			got, err := Read(strings.NewReader(text), f, Options{})
			require.NoError(t, err)
			assert.Equal(t, GHCNFixed, got.Form)
			assert.Equal(t, "USW00014839", got.Station)
			require.Len(t, got.Days, 31)
			assert.Equal(t, threeDays(), got.Days[:3])
			assert.Equal(t, map[string]int{DroppedQuality: 1}, got.Dropped)
		})
	}
}

func TestListForm(t *testing.T) {
	rows := "USW00014839,20260101,TMIN,-122,,,S,\nUSW00014839,20260101,TMAX,-39,,,S,2400\nUSW00014839,20260101,PRCP,0,T,,S,\n" +
		"USW00014839,20260101,SNWD,150,,,S,\nUSW00014839,20260102,TMIN,150,,I,S,\nUSW00014839,20260102,TMAX,11,,,S,\n" +
		"USW00014839,20260103,TMIN,-50,,,S,\nUSW00014839,20260103,SNOW,25,,,S,\nUSW00014839,20260103,TAVG,7,,,S,\n"
	for name, header := range map[string]string{
		"without a header": "",
		"by station":       "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n",
		"station, date":    "STATION,DATE,ELEMENT,VALUE,MFLAG,QFLAG,SFLAG,TIME\n",
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read(strings.NewReader(header+rows), "x.csv", Options{})
			require.NoError(t, err)
			assert.Equal(t, GHCNList, got.Form)
			assert.Equal(t, threeDays(), got.Days)
			assert.Equal(t, map[string]int{DroppedQuality: 1}, got.Dropped)
		})
	}
}

func TestTableForm(t *testing.T) {
	const head = `"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES","SNOW","SNOW_ATTRIBUTES","SNWD","SNWD_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"` + "\n"
	row := func(date string, v ...string) string {
		return fmt.Sprintf(`"USW00014839","%s","42.955","-87.9044","205.4","MILWAUKEE, WI US","%s","T,,S","%s",",,S","%s",",,S","%s",",,S","%s","%s"`+"\n", date, v[0], v[1], v[2], v[3], v[4], v[5])
	}
	for units, text := range map[Units]string{
		UnitsTenths: row("2026-01-01", "    0", "", "  150", "  -39", " -122", ",,S") + row("2026-01-02", "", "", "", "11", "150", ",I,S") + row("2026-01-03", "", "25", "", "", "-50", ",,S"),
		UnitsMetric: row("2026-01-01", "0.0", "", "150", "-3.9", "-12.2", ",,S") + row("2026-01-02", "", "", "", "1.1", "15", ",I,S") + row("2026-01-03", "", "25", "", "", "-5", ",,S"),
	} {
		t.Run(string(units), func(t *testing.T) {
			got, err := Read(strings.NewReader(head+text), "x.csv", Options{Units: units})
			require.NoError(t, err)
			assert.Equal(t, GHCNTable, got.Form)
			assert.Equal(t, threeDays(), got.Days)
			assert.Equal(t, map[string]int{DroppedQuality: 1}, got.Dropped)
			assert.Equal(t, unit.Some(42.955), got.Latitude)
			assert.Equal(t, unit.Some(-87.9044), got.Longitude)
			assert.Equal(t, unit.Some(205.4), got.Elevation)
		})
	}
	t.Run("us", func(t *testing.T) {
		got, err := Read(strings.NewReader(head+row("2026-01-01", "1.00", "2.0", "6", "50", "23", ",,S")), "x.csv", Options{Units: UnitsUS})
		require.NoError(t, err)
		d := got.Days[0]
		assert.InDelta(t, -5, float64(d.Min.Else(99)), 1e-9)
		assert.InDelta(t, 10, float64(d.Max.Else(99)), 1e-9)
		assert.InDelta(t, 25.4, d.Precip.Else(99), 1e-9)
		assert.InDelta(t, 5.08, d.Snowfall.Else(99), 1e-9)
		assert.InDelta(t, 15.24, d.SnowDepth.Else(99), 1e-9)
	})
	t.Run("unit not said", func(t *testing.T) {
		_, err := Read(strings.NewReader(head+row("2026-01-01", "", "", "", "", "", "")), "x.csv", Options{})
		assert.ErrorContains(t, err, "tenths")
	})
}

func TestSeveralStations(t *testing.T) {
	const text = "USW00014839,20260101,TMIN,-122,,,S,\nUSW00014840,20260101,TMIN,-50,,,S,\n"
	_, err := Read(strings.NewReader(text), "x.csv", Options{})
	assert.ErrorContains(t, err, "USW00014840")
	got, err := Read(strings.NewReader(text), "x.csv", Options{Station: "USW00014840"})
	require.NoError(t, err)
	assert.Equal(t, []Day{{Date: "2026-01-01", Min: c(-5)}}, got.Days)
	_, err = Read(strings.NewReader(text), "x.csv", Options{Station: "USW00000000"})
	assert.ErrorContains(t, err, "no values of station USW00000000")
}

func TestMinimumAboveMaximumIsDroppedAndCounted(t *testing.T) {
	got, err := Read(strings.NewReader("USW00014839,20260101,TMIN,50,,,S,\nUSW00014839,20260101,TMAX,-50,,,S,\n"), "x.csv", Options{})
	require.NoError(t, err)
	assert.Equal(t, []Day{{Date: "2026-01-01"}}, got.Days)
	assert.Equal(t, map[string]int{DroppedInverted: 2}, got.Dropped)
}

func TestGHCNRefusals(t *testing.T) {
	for name, x := range map[string]struct{ file, text, says string }{
		"list value":           {"x.csv", "USW00014839,20260101,TMIN,cold,,,S,\n", "not a number"},
		"list date":            {"x.csv", "ID,DATE,ELEMENT,DATA_VALUE,Q_FLAG\nUSW00014839,20260231,TMIN,1,\n", "calendar day"},
		"list without flags":   {"x.csv", "ID,DATE,ELEMENT,DATA_VALUE\nUSW00014839,20260101,TMIN,1\n", "QFLAG"},
		"list twice":           {"x.csv", "USW00014839,20260101,TMIN,1,,,S,\nUSW00014839,20260101,TMIN,1,,,S,\n", "twice"},
		"list not in tenths":   {"x.csv", "USW00014839,20260101,TMIN,-1222,,,S,\n", "not possible"},
		"list of nothing":      {"x.csv", "USW00014839,20260101,WT01,1,,,S,\n", "no TMIN"},
		"table without max":    {"x.csv", "STATION,DATE,TMIN\nUSW00014839,2026-01-01,1\n", "TMAX"},
		"table day twice":      {"x.csv", "STATION,DATE,TMIN,TMAX\nUSW00014839,2026-01-01,,\nUSW00014839,2026-01-01,,\n", "twice"},
		"monthly short line":   {"x.dly", dly("TMIN")[:200] + "\n", "269 characters"},
		"monthly 30 February":  {"x.dly", strings.Replace(dly("TMIN", strings.Split(strings.Repeat("    1   |", 30), "|")[:30]...), "202601", "202602", 1), "day 29"},
		"monthly no number":    {"x.dly", dly("TMIN", "  x50  S"), "whole number"},
		"monthly year":         {"x.dly", strings.Replace(dly("TMIN"), "202601", "000001", 1), "year and month"},
		"monthly month":        {"x.dly", strings.Replace(dly("TMIN"), "202601", "202613", 1), "year and month"},
		"monthly without line": {"x.dly", strings.Repeat("x", 70000), "does not end"},
		"monthly empty":        {"x.dly", "", "no TMIN"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read(strings.NewReader(x.text), x.file, Options{Units: UnitsTenths})
			var f *Fault
			require.True(t, errors.As(err, &f), "got %v", err)
			assert.Positive(t, f.Line)
			assert.Contains(t, err.Error(), x.says)
		})
	}
}

func TestTrailingBlanksOfAMonthMayBeCut(t *testing.T) {
	got, err := Read(strings.NewReader(strings.TrimRight(dly("TMIN", "  -50  S"), " \n")+"\r\n"), "x.dly", Options{})
	require.NoError(t, err)
	assert.Equal(t, c(-5), got.Days[0].Min)
	assert.Equal(t, farm.Day("2026-01-31"), got.Days[30].Date)
}

// Years from 1700 to 2200, the first and the last among them.
func TestYearsOfTheFixedForm(t *testing.T) {
	for year, right := range map[string]bool{"1699": false, "1700": true, "2200": true, "2201": false} {
		text := strings.ReplaceAll(dly("TMIN", " -122  S")+dly("TMAX", "  -39  S"), "839202601", "839"+year+"01")
		_, err := Read(strings.NewReader(text), "x.dly", Options{})
		if right {
			assert.NoError(t, err, year)
			continue
		}
		assert.ErrorContains(t, err, "is not a year and month", year)
	}
}
