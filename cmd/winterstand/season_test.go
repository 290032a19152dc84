package main

import (
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/science/season"
)

// twoWinters is a daily history of two winters around a yearly wave.
func twoWinters() string {
	var b strings.Builder
	b.WriteString("date,tmin_c,tmax_c,precip_mm,snow_depth_cm\n")
	end := time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)
	for d := time.Date(2022, 7, 1, 0, 0, 0, 0, time.UTC); d.Before(end); d = d.AddDate(0, 0, 1) {
		mean := 5 - 18*math.Cos(2*math.Pi*float64(d.YearDay()-20)/365)
		fmt.Fprintf(&b, "%s,%.1f,%.1f,0,0\n", d.Format(time.DateOnly), mean-5, mean+5)
	}
	return b.String()
}

func TestSeasonWithAndWithoutCover(t *testing.T) {
	file := written(t, "h.csv", twoWinters())
	code, out, errOut := told("season", "--history", file, "--crop", "tomato,kale-curly", "--units", "metric")
	require.Equal(t, 0, code, errOut)
	assert.Contains(t, out, "Winters 2022/23 to 2023/24")
	assert.Contains(t, out, "Complete winters: 2.")
	assert.Contains(t, out, "low tunnel fabric")
	assert.Contains(t, out, "°C")
	assert.NotContains(t, errOut, "winters", "no progress where it is not a terminal")

	code, out, _ = told("season", "--history", file, "--crop", "kale-curly", "--cover", "none", "--json")
	require.Equal(t, 0, code)
	var got season.Outlook
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	require.Len(t, got.Rows, 1)
	assert.Equal(t, 2, got.Rows[0].Winters)
	assert.Len(t, got.Winters, 2)
}

// The same weather by the hour gives the same dates as replay makes of the days.
func TestSeasonOfHours(t *testing.T) {
	var b strings.Builder
	b.WriteString("time,air_c,precip_mm\n")
	for at := time.Date(2022, 8, 1, 0, 0, 0, 0, time.UTC); at.Before(time.Date(2023, 6, 2, 0, 0, 0, 0, time.UTC)); at = at.Add(time.Hour) {
		air := 5 - 18*math.Cos(2*math.Pi*float64(at.YearDay()-20)/365) + 5*math.Cos(2*math.Pi*float64(at.Hour()-21)/24)
		cell := fmt.Sprintf("%.2f", air)
		if at.Month() == time.April && at.Day() == 9 && at.Hour() < 6 {
			cell = ""
		}
		fmt.Fprintf(&b, "%s,%s,0\n", at.Format(time.RFC3339), cell)
	}
	file := written(t, "hours.csv", b.String())
	code, out, errOut := told("season", "--history", file, "--crop", "tomato", "--cover", "none", "--longitude", "0", "--time-zone", "UTC")
	require.Equal(t, 0, code, errOut)
	assert.Contains(t, out, "Winter 2022/23 is incomplete, 1 missing days: not counted.")
}

func TestSeasonSaysWhatIsWrong(t *testing.T) {
	good := written(t, "h.csv", twoWinters())
	for _, c := range []struct {
		name string
		args []string
		says string
	}{
		{"no file", []string{"season"}, "--history is missing"},
		{"nowhere", []string{"season", "--history", filepath.Join(t.TempDir(), "x")}, "--history"},
		{"short", []string{"season", "--history", written(t, "s.csv", threeDays)}, "no winter from 1 August to 31 May"},
		{"units", []string{"season", "--history", good, "--units", "si"}, "us or metric"},
		{"crop", []string{"season", "--history", good, "--crop", "kale-curly,granite"}, "granite"},
		{"cover", []string{"season", "--history", good, "--cover", "none,roof"}, "roof"},
		{"zone", []string{"season", "--history", good, "--time-zone", "Mars/Olympus"}, "Mars/Olympus"},
		{"zone of another side of the earth", []string{"season", "--history", good, "--time-zone", "Asia/Kolkata"}, "does not fit longitude"},
		{"a word for a number", []string{"season", "--history", written(t, "w.csv", "date,tmin_c,tmax_c\n2024-01-01,low,1\n")}, "w.csv line 2, column tmin_c"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errOut := told(c.args...)
			assert.Equal(t, 2, code, errOut)
			assert.Empty(t, out)
			assert.Contains(t, errOut, c.says)
		})
	}
}
