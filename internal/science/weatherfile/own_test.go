package weatherfile

import (
	"bytes"
	"compress/gzip"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

func read(t *testing.T, text string) File {
	t.Helper()
	f, err := Read(strings.NewReader(text), "w.csv", Options{})
	require.NoError(t, err)
	return f
}

func TestHourlyFile(t *testing.T) {
	f := read(t, "\ufeffair_c,time,wind_ms,precip_mm\r\n-6.7,2026-11-14T00:00:00-06:00,2,\r\n,2026-11-14T07:00:00Z,,0\r\n")
	assert.Equal(t, Hourly, f.Form)
	require.Len(t, f.Hours, 2)
	first, second := f.Hours[0], f.Hours[1]
	assert.Equal(t, time.Date(2026, 11, 14, 6, 0, 0, 0, time.UTC), first.At)
	assert.Equal(t, unit.Some(unit.Celsius(-6.7)), first.Air)
	assert.Equal(t, unit.Some(2.0), first.Wind)
	assert.False(t, first.Precip.Known(), "an empty cell is missing, not zero")
	assert.False(t, first.SnowDepth.Known(), "an absent column is missing")
	assert.False(t, second.Air.Known())
	assert.Equal(t, unit.Some(0.0), second.Precip, "a written zero is a zero")
}

func TestDailyFile(t *testing.T) {
	f := read(t, "date,tmin_c,tmax_c,snow_depth_cm\n2026-11-14,-6.7,1.1,5\n2026-11-16,,3,\n")
	assert.Equal(t, Daily, f.Form)
	require.Len(t, f.Days, 2)
	assert.Equal(t, unit.Some(unit.Celsius(-6.7)), f.Days[0].Min)
	assert.Equal(t, unit.Some(5.0), f.Days[0].SnowDepth)
	assert.False(t, f.Days[1].Min.Known())
	assert.False(t, f.Days[1].SnowDepth.Known())
}

func TestDaysOutOfOrderArePutInPlaceAndCounted(t *testing.T) {
	f := read(t, "date,tmin_c,tmax_c\n2026-11-14,1,2\n2026-11-16,3,4\n2026-11-15,2,3\n")
	assert.Equal(t, 1, f.Reordered)
	assert.Equal(t, []Day{{Date: "2026-11-14", Min: c(1), Max: c(2)}, {Date: "2026-11-15", Min: c(2), Max: c(3)}, {Date: "2026-11-16", Min: c(3), Max: c(4)}}, f.Days)
}

func TestGzipByName(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, err := z.Write([]byte("date,tmin_c,tmax_c\n2026-11-14,-6.7,1.1\n"))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	f, err := Read(bytes.NewReader(packed.Bytes()), "w.csv.GZ", Options{})
	require.NoError(t, err)
	assert.Len(t, f.Days, 1)

	_, err = Read(bytes.NewReader(packed.Bytes()[:20]), "w.csv.gz", Options{})
	assert.Error(t, err, "a file cut short is an error, not a short series")
	_, err = Read(strings.NewReader("date,tmin_c,tmax_c\n"), "w.csv.gz", Options{})
	assert.ErrorContains(t, err, "w.csv.gz")
}

func TestEndlessFileIsRefused(t *testing.T) {
	b := &bounded{r: strings.NewReader("abcdef"), left: 4, name: "w.csv"}
	p := make([]byte, 8)
	n, err := b.Read(p)
	require.NoError(t, err)
	assert.Equal(t, 4, n)
	_, err = b.Read(p)
	assert.ErrorContains(t, err, "w.csv")
}

func TestRefusals(t *testing.T) {
	const hourly, daily = "time,air_c,wind_ms\n", "date,tmin_c,tmax_c\n"
	for name, c := range map[string]struct {
		text, column, says string
		line               int
	}{
		"empty file":          {"", "", "empty", 1},
		"header alone":        {hourly, "", "nothing follows", 1},
		"not a header":        {"hello,world\n", "", "not a header", 1},
		"both forms":          {"time,date,air_c\n", "", "not a header", 1},
		"semicolons":          {"time;air_c\n", "", "time,air_c", 1},
		"unknown column":      {"time,air_c,wind_m_s\n", `"wind_m_s"`, "wind_ms", 1},
		"column of the other": {"date,tmin_c,tmax_c,air_c\n", `"air_c"`, "tmin_c", 1},
		"column twice":        {"time,air_c,air_c\n", "air_c", "twice", 1},
		"no air":              {"time,wind_ms\n", "air_c", "missing from the header", 1},
		"no maximum":          {"date,tmin_c\n", "tmax_c", "missing from the header", 1},
		"no zone":             {hourly + "2026-11-14T06:00:00,1,\n", "time", "zone", 2},
		"not a full hour":     {hourly + "2026-11-14T06:30:00Z,1,\n", "time", "full hour", 2},
		"half-hour zone":      {hourly + "2026-11-14T06:00:00+05:30,1,\n", "time", "full hour", 2},
		"year 1":              {hourly + "0001-01-01T00:00:00Z,1,\n", "time", "year", 2},
		"hour twice":          {hourly + "2026-11-14T06:00:00Z,1,\n2026-11-14T01:00:00-05:00,1,\n", "time", "twice", 3},
		"backwards":           {hourly + "2026-11-14T06:00:00Z,1,\n2026-11-14T05:00:00Z,1,\n", "time", "sort", 3},
		"words":               {hourly + "2026-11-14T06:00:00Z,cold,\n", "air_c", "not a number", 2},
		"NaN":                 {hourly + "2026-11-14T06:00:00Z,NaN,\n", "air_c", "not a number", 2},
		"Inf":                 {hourly + "2026-11-14T06:00:00Z,-Inf,\n", "air_c", "not a number", 2},
		"hexadecimal":         {hourly + "2026-11-14T06:00:00Z,0x1p3,\n", "air_c", "not a number", 2},
		"decimal comma":       {hourly + "2026-11-14T06:00:00Z,\"-6,7\",\n", "air_c", "decimal point", 2},
		"sentinel":            {hourly + "2026-11-14T06:00:00Z,-9999,\n", "air_c", "leave the cell empty", 2},
		"overflow":            {hourly + "2026-11-14T06:00:00Z,1e999,\n", "air_c", "not a number", 2},
		"too warm":            {hourly + "2026-11-14T06:00:00Z,60.1,\n", "air_c", "between -80 and 60", 2},
		"wind below zero":     {hourly + "2026-11-14T06:00:00Z,1,-1\n", "wind_ms", "between 0", 2},
		"missing cell":        {hourly + "2026-11-14T06:00:00Z,1\n", "", "2 cells where the first line has 3", 2},
		"open quote":          {hourly + "2026-11-14T06:00:00Z,\"1,\n", "", "quotes", 2},
		"day twice":           {daily + "2026-11-14,1,2\n2026-11-14,1,2\n", "date", "twice", 3},
		"no such day":         {daily + "2026-02-30,1,2\n", "date", "calendar day", 2},
		"upside down":         {daily + "2026-11-14,2,1\n", "tmin_c", "above the maximum", 2},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text), "w.csv", Options{})
			var f *Fault
			require.True(t, errors.As(err, &f), "got %v", err)
			assert.Equal(t, "w.csv", f.File)
			assert.Equal(t, c.line, f.Line)
			assert.Equal(t, c.column, f.Column)
			assert.NotEmpty(t, f.Want)
			assert.Contains(t, Whats(), f.What)
			assert.Contains(t, err.Error(), c.says)
		})
	}
}

func TestFaultReadsAsASentence(t *testing.T) {
	_, err := Read(strings.NewReader("time,air_c\n\n2026-11-14T06:00:00Z,warm\n"), "november.csv", Options{})
	assert.EqualError(t, err, `november.csv line 3, column air_c: "warm" is not a number; write degrees Celsius with a decimal point, or leave the cell empty where it is missing`)
}
