package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// told runs the program and gives exit code, standard output and standard error.
func told(args ...string) (code int, out, errOut string) {
	var o, e bytes.Buffer
	code = run(context.Background(), args, &o, &e)
	return code, o.String(), e.String()
}

func written(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

const threeDays = `date,tmin_c,tmax_c,snow_depth_cm
2024-11-01,-3,6,0
2024-11-02,-8,1,0
2024-11-03,-12,-4,3
`

func TestReplayPrintsTheColumnsOfTheContract(t *testing.T) {
	file := written(t, "w.csv", threeDays)
	code, out, errOut := told("replay", "--weather", file)
	require.Equal(t, 0, code, errOut)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, "time,air_c,leaf_c,tolerance_c,kill_fraction,survival,quality,snow_cm,frozen_cm,soil_0cm_c,soil_5cm_c,soil_10cm_c,soil_20cm_c,workable", strings.Join(rows[0], ","))
	assert.Empty(t, errOut)

	code, out, _ = told("replay", "--weather", file, "--every", "day", "--crop", "kale-curly", "--cover", "low_tunnel", "--soil", "sand", "--mulch-cm", "5", "--depths-cm", "2", "--start-tolerance-c", "-10", "--ensemble")
	require.Equal(t, 0, code)
	days, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Len(t, days, 4)
	assert.Equal(t, []string{"-3.00", "-8.00", "-12.00"}, []string{days[1][1], days[2][1], days[3][1]}, "the minima of the file")
	assert.Contains(t, days[0], "quality_p90")
}

func TestReplaySaysWhatIsWrong(t *testing.T) {
	good := written(t, "w.csv", threeDays)
	for _, c := range []struct {
		name string
		args []string
		says []string
	}{
		{"no file named", []string{"replay"}, []string{"--weather is missing"}},
		{"no such file", []string{"replay", "--weather", "nowhere.csv"}, []string{"nowhere.csv"}},
		{"a word for a number", []string{"replay", "--weather", written(t, "a.csv", "time,air_c\n2024-01-01T00:00:00Z,1\n2024-01-01T01:00:00Z,cold\n")}, []string{"a.csv line 3", "air_c", `"cold"`}},
		{"an unknown column", []string{"replay", "--weather", written(t, "b.csv", "time,air_f\n2024-01-01T00:00:00Z,1\n")}, []string{"b.csv line 1", "air_f"}},
		{"no air at all", []string{"replay", "--weather", written(t, "c.csv", "time,air_c\n2024-01-01T00:00:00Z,\n")}, []string{"c.csv", "no hour has an air temperature"}},
		{"crop", []string{"replay", "--weather", good, "--crop", "granite"}, []string{"granite"}},
		{"two crops", []string{"replay", "--weather", good, "--crop", "chard,kale-curly"}, []string{"one crop"}},
		{"soil", []string{"replay", "--weather", good, "--soil", "rock"}, []string{"--soil", "rock"}},
		{"cover", []string{"replay", "--weather", good, "--cover", "roof"}, []string{"--cover", "roof"}},
		{"every", []string{"replay", "--weather", good, "--every", "week"}, []string{"--every", "hour or day"}},
		{"depth", []string{"replay", "--weather", good, "--depths-cm", "5;10"}, []string{"--depths-cm", "5;10"}},
		{"tolerance", []string{"replay", "--weather", good, "--start-tolerance-c", "-40"}, []string{"-40"}},
		{"latitude", []string{"replay", "--weather", good, "--latitude", "99"}, []string{"latitude"}},
		{"not a flag", []string{"replay", "--wether", good}, []string{"wether"}},
		{"an argument", []string{"replay", good}, []string{"--weather"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errOut := told(c.args...)
			assert.Equal(t, 2, code)
			assert.Empty(t, out)
			for _, s := range c.says {
				assert.Contains(t, errOut, s)
			}
		})
	}
}

func TestReplayNamesGaps(t *testing.T) {
	file := written(t, "g.csv", "time,air_c\n2024-11-01T00:00:00Z,\n2024-11-01T01:00:00Z,4\n2024-11-01T04:00:00Z,1\n2024-11-01T05:00:00Z,\n")
	code, out, errOut := told("replay", "--weather", file)
	require.Equal(t, 0, code)
	assert.Contains(t, errOut, "g.csv: no air temperature in the first 1 hour: begins at 2024-11-01T01:00:00Z")
	assert.Contains(t, errOut, "in the last 1 hour: ends at 2024-11-01T05:00:00Z")
	assert.Contains(t, errOut, "missing in 2 hours between and bridged; 0 of them")
	assert.Equal(t, 5, strings.Count(out, "\n"), "a header and four hours")
	assert.Contains(t, out, "2024-11-01T02:00:00Z,3.00,")
}
