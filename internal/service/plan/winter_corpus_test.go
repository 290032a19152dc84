package plan

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/season"
	"winterstand/internal/science/weatherfile"
)

// The ordinary winter against the daily minima of Milwaukee 1938–2026 (NOAA
// GHCN-Daily USW00014839): the day by which a share of the winters have had a
// night below a limit. Nothing of the rule was fitted to one place; it may be
// early by three weeks, which gives beds up too soon, and late by one.
func TestOrdinaryWinterAgainstMilwaukee(t *testing.T) {
	folder := os.Getenv("WINTERSTAND_CORPUS")
	if folder == "" {
		t.Skip("set WINTERSTAND_CORPUS to the folder of observations to hold the ordinary winter against Milwaukee")
	}
	f, err := os.Open(filepath.Join(folder, "observations", "milwaukee_daily_1938_2026.csv.gz"))
	require.NoError(t, err)
	defer f.Close()
	file, err := weatherfile.Read(f, f.Name(), weatherfile.Options{})
	require.NoError(t, err)
	site := microclimate.Site{Latitude: 42.95, Longitude: -87.9, ElevationM: 204}
	early := 0
	for _, limit := range []float64{-2, -5, -8, -11, -14, -18} {
		seen := firstBelow(file.Days, limit)
		for _, share := range []float64{0.1, 0.5, 0.9} {
			observed := seen[int(share*float64(len(seen)-1))]
			off := ruled(site, limit, share) - observed
			assert.True(t, off >= -21 && off <= 7, "%v °C in %v of the winters: observed by %s, the rule is off by %d days",
				limit, share, season.DateOf(observed), off)
			early += off
		}
	}
	assert.InDelta(t, -8, float64(early)/18, 3, "days early on average, as said beside the rule")
}

// ruled is the day by which the rule has a night below a limit in a share of the
// winters, as a number of the winter.
func ruled(site microclimate.Site, limit, share float64) int {
	day := farm.Day("1999-08-01")
	stands := normal(site, limit, day)
	for stands(day) > 1-share && day < "2000-05-31" {
		day = day.Add(1)
	}
	return season.DayNumber(day)
}

// firstBelow is the day of each winter's first minimum below a limit, sorted.
func firstBelow(days []weatherfile.Day, limit float64) []int {
	first := map[string]int{}
	for _, d := range days {
		n := season.DayNumber(d.Date)
		winter := string(d.Date.Add(-212))[:4] // the year of its 1 August
		if _, seen := first[winter]; !seen {
			first[winter] = 304
		}
		if low, ok := d.Min.Get(); ok && float64(low) < limit && n < first[winter] {
			first[winter] = n
		}
	}
	out := make([]int, 0, len(first))
	for _, n := range first {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}
