package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/science/skill"
)

// autumn is a daily history from August on that cools day by day, and the lows
// that were forecast for it two mornings ahead, right to a degree.
func autumn() (observed, lows string) {
	var o, l strings.Builder
	o.WriteString("date,tmin_c,tmax_c\n")
	l.WriteString("station,issued,morning,lead_days,low_f\n")
	start := time.Date(2023, 8, 1, 0, 0, 0, 0, time.UTC)
	low := func(n int) float64 { return 14 - float64(n)/6 + 3*math.Sin(float64(n)/2) }
	for n := range 170 {
		day := start.AddDate(0, 0, n)
		fmt.Fprintf(&o, "%s,%.1f,%.1f\n", day.Format(time.DateOnly), low(n), low(n)+8)
		for lead := 1; lead <= 2 && n > 90 && n < 135; lead++ {
			fmt.Fprintf(&l, "here,%s,%s,%d,%.0f\n", day.Format(time.RFC3339)[:11]+"21:00:00Z", day.AddDate(0, 0, lead).Format(time.DateOnly), lead, low(n+lead)*1.8+32)
		}
	}
	return o.String(), l.String()
}

func TestSkillOfAnArchive(t *testing.T) {
	observed, lows := autumn()
	o, l := written(t, "o.csv", observed), written(t, "l.csv", lows)
	code, out, errOut := told("skill", "--archive", l, "--observations", o, "--crop", "lettuce-head,chard", "--units", "metric")
	require.Equal(t, 0, code, errOut)
	for _, want := range []string{"hits", "misses", "false alarms", "Brier score", "days ahead", "cost / loss", "alarm -2.2 °C", "crop list", "Issued lows against observed minima", " K"} {
		assert.Contains(t, out, want)
	}
	assert.NotContains(t, errOut, "issues", "no progress where it is not a terminal")

	code, out, _ = told("skill", "--archive", l, "--observations", o, "--crop", "chard", "--json")
	require.Equal(t, 0, code)
	var report skill.Report
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	assert.Equal(t, 3, report.Verdicts.Events(), "one night: in two issues before it, and in the first of them also by the night after")
	assert.Positive(t, report.Verdicts.Hits)
}

func TestSkillOfAFolderOfStations(t *testing.T) {
	observed, lows := autumn()
	dir := t.TempDir()
	for _, d := range []string{"lows", "days"} {
		require.NoError(t, os.Mkdir(filepath.Join(dir, d), 0o700))
	}
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	write("lows/a.csv", lows)
	write("lows/b.csv", strings.ReplaceAll(lows, "here,", "there,"))
	write("lows/notes.txt", "not a table")
	write("days/here.csv", observed)
	args := []string{"skill", "--archive", filepath.Join(dir, "lows"), "--observations", filepath.Join(dir, "days"), "--crop", "chard"}
	code, _, errOut := told(args...)
	assert.Equal(t, 2, code)
	assert.Contains(t, errOut, "no file there.csv")
	write("days/there.csv", observed)
	code, out, errOut := told(args...)
	require.Equal(t, 0, code, errOut)
	assert.Contains(t, out, "Verdicts that could be scored")
}

func TestSkillSaysWhatIsWrong(t *testing.T) {
	observed, lows := autumn()
	o, l := written(t, "o.csv", observed), written(t, "l.csv", lows)
	two := written(t, "two.csv", lows+"there,2023-10-01,2023-10-02,1,40\n")
	for _, c := range []struct {
		name string
		args []string
		says string
	}{
		{"no observations", []string{"--archive", l}, "--observations is missing"},
		{"no archive", []string{"--observations", o}, "goes with --archive"},
		{"no such archive", []string{"--archive", "nowhere.csv", "--observations", o}, "--archive"},
		{"an empty folder", []string{"--archive", t.TempDir(), "--observations", o}, "no .csv"},
		{"no such observations", []string{"--archive", l, "--observations", "nowhere.csv"}, "--observations"},
		{"two stations, one file", []string{"--archive", two, "--observations", o}, "holds 2 stations"},
		{"a bad low", []string{"--archive", written(t, "bad.csv", "station,issued,morning,lead_days,low_f\nhere,2023-10-01,2023-10-02,1,cold\n"), "--observations", o}, "bad.csv line 2, column low_f"},
		{"nothing to play", []string{"--archive", written(t, "early.csv", "station,issued,morning,lead_days,low_f\nhere,2020-10-01,2020-10-02,1,40\n"), "--observations", o}, "none of 1 issue could be played"},
		{"hourly observations", []string{"--archive", l, "--observations", written(t, "h.csv", "time,air_c\n2024-01-01T00:00:00Z,1\n")}, "a line for each hour"},
		{"crop", []string{"--archive", l, "--observations", o, "--crop", "granite"}, "granite"},
		{"soil", []string{"--archive", l, "--observations", o, "--soil", "rock"}, "rock"},
		{"units", []string{"--units", "si"}, "us or metric"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errOut := told(append([]string{"skill"}, c.args...)...)
			assert.Equal(t, 2, code, errOut)
			assert.Empty(t, out)
			assert.Contains(t, errOut, c.says)
		})
	}
}

// A book without a verdict, and a farm that is not in it.
func TestSkillOfTheBook(t *testing.T) {
	t.Setenv("WINTERSTAND_DATABASE", "sqlite:"+filepath.Join(t.TempDir(), "w.db"))
	code, out, errOut := told("skill")
	require.Equal(t, 0, code, errOut)
	assert.Contains(t, out, "Nothing to score.")
	code, _, errOut = told("skill", "--farm", "nobody")
	assert.Equal(t, 2, code)
	assert.Contains(t, errOut, `--farm "nobody": there is no such farm`)
}
