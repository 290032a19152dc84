package main

import (
	"compress/gzip"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// folder writes files and gives where they lie.
func folder(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	return dir
}

func aWinter() string {
	var b strings.Builder
	b.WriteString("time,air_c,snow_depth_cm,soil_5cm_c\n")
	for at := time.Date(2022, 11, 1, 0, 0, 0, 0, time.UTC); at.Before(time.Date(2023, 1, 10, 0, 0, 0, 0, time.UTC)); at = at.Add(time.Hour) {
		fmt.Fprintf(&b, "%s,%d,20,0.5\n", at.Format(time.RFC3339), -at.Hour()/4)
	}
	return b.String()
}

const sites = "site,file,latitude,longitude,elevation_m,soil,surface\nhere,w.csv,45,-90,300,loam,grass\n"

func TestValidatePrintsATable(t *testing.T) {
	code, out, errOut := told("validate", "--observations", folder(t, map[string]string{"sites.csv": sites, "w.csv": aWinter()}))
	require.Equal(t, 0, code, errOut)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	require.Len(t, lines, 2, out)
	assert.Equal(t, []string{"site", "winter", "depth_cm", "hours", "bias_k", "rmse_k", "min_modelled_c", "min_observed_c"}, strings.Fields(lines[0]))
	cells := strings.Fields(lines[1])
	assert.Equal(t, []string{"here", "2022-23", "5", "960"}, cells[:4], "40 days of December and January")
	assert.Equal(t, "0.50", cells[7])
}

func TestValidateSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		name string
		args []string
		says string
	}{
		{"no folder", nil, "--observations is missing"},
		{"not there", []string{"--observations", "nowhere"}, "nowhere"},
		{"no list", []string{"--observations", t.TempDir()}, "sites.csv"},
		{"snow", []string{"--observations", "x", "--snow", "deep"}, "given or modelled"},
		{"a word", []string{"--observations", folder(t, map[string]string{"sites.csv": sites, "w.csv": "time,air_c,soil_5cm_c\n2023-01-01T00:00:00Z,cold,1\n"})}, "w.csv line 2, column air_c"},
		{"no winter", []string{"--observations", folder(t, map[string]string{"sites.csv": sites, "w.csv": "time,air_c,soil_5cm_c\n2023-07-01T00:00:00Z,20,18\n"})}, "no hour of a winter"},
		{"no precipitation", []string{"--observations", folder(t, map[string]string{"sites.csv": sites, "w.csv": aWinter()}), "--snow", "modelled"}, "precipitation"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errOut := told(append([]string{"validate"}, c.args...)...)
			assert.Equal(t, 2, code)
			assert.Empty(t, out)
			assert.Contains(t, errOut, c.says)
		})
	}
}

// Old Town, Maine, Demeritt Forest: Contosta, Old-Town-Met-Data, CC0; snow by the
// daily sensor. The bars: RMSE 0.8 K at 5 cm, winter minimum within 1.5 K.
func TestValidateOldTown(t *testing.T) {
	corpus := os.Getenv("WINTERSTAND_CORPUS")
	if corpus == "" {
		t.Skip("SKIPPED: WINTERSTAND_CORPUS is not set, so the observations are not there to read")
	}
	dir := folder(t, map[string]string{
		"sites.csv": "site,file,latitude,longitude,elevation_m,soil,surface\nsoftwood,SW.csv,44.93,-68.68,50,loam,litter\nhardwood,HW.csv,44.93,-68.68,50,loam,litter\n",
		"SW.csv":    oldTown(t, corpus, "SW"), "HW.csv": oldTown(t, corpus, "HW"),
	})
	code, out, errOut := told("validate", "--observations", dir)
	require.Equal(t, 0, code, errOut)
	t.Log("\n" + out)
	assert.Equal(t, 1+2*2*4, strings.Count(out, "\n"), "two stands, two depths, four winters")
}

// oldTown turns one stand of the corpus into the form of a folder.
func oldTown(t *testing.T, corpus, stand string) string {
	t.Helper()
	snow := map[string]string{}
	daily, err := os.Open(filepath.Join(corpus, "observations", "oldtown_daily.csv"))
	require.NoError(t, err)
	defer daily.Close()
	rows, err := csv.NewReader(daily).ReadAll()
	require.NoError(t, err)
	for _, r := range rows[1:] {
		if r[0] == stand {
			snow[r[1]] = r[10]
		}
	}
	f, err := os.Open(filepath.Join(corpus, "observations", "oldtown_hourly_2018_2022.csv.gz"))
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	hours, err := csv.NewReader(z).ReadAll()
	require.NoError(t, err)
	var b strings.Builder
	b.WriteString("time,air_c,humidity_fraction,snow_depth_cm,soil_5cm_c,soil_25cm_c\n")
	for _, r := range hours[1:] {
		if r[0] != stand {
			continue
		}
		at, err := time.ParseInLocation("2006-01-02T15:04", r[1], time.FixedZone("EST", -5*3600))
		require.NoError(t, err)
		if at.Minute() != 0 {
			continue // a logger that was visited
		}
		cm := snow[r[1][:10]]
		if m := at.Month(); m >= time.May && m <= time.October {
			cm = "0" // the sensor sees the undergrowth
		}
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s\n", at.Format(time.RFC3339), r[2], fraction(r[8]), cm, r[3], r[4])
	}
	return b.String()
}

// fraction of a relative humidity in percent; empty and impossible stay empty.
func fraction(percent string) string {
	var v float64
	if _, err := fmt.Sscan(percent, &v); err != nil || v <= 0 || v > 105 {
		return ""
	}
	return fmt.Sprintf("%.4f", v/100)
}
