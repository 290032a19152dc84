package season_test

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/season"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/unit"
)

// The place of the series: Milwaukee airport (GHCN-Daily station list, from memory).
const lat, lon, elevation = 42.955, -87.904, 204.0

func milwaukee(t *testing.T) []weatherfile.Day {
	t.Helper()
	dir := os.Getenv("WINTERSTAND_CORPUS")
	if dir == "" {
		t.Skip("SKIPPED: WINTERSTAND_CORPUS is not set, so the observations are not there to read")
	}
	f, err := os.Open(filepath.Join(dir, "observations", "milwaukee_daily_1938_2026.csv.gz"))
	require.NoError(t, err)
	defer f.Close()
	got, err := weatherfile.Read(f, f.Name(), weatherfile.Options{})
	require.NoError(t, err)
	days, _ := weatherfile.FillMax(got.Days)
	return days
}

// Source of the weather: GHCN-Daily USW00014839. What must come out: common
// practice, no source.
func TestEightyEightWinters(t *testing.T) {
	days := milwaukee(t)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	years := weatherfile.Winters(days)
	require.Len(t, years, 88)
	assert.Equal(t, 1938, years[0])

	catalogue, err := crop.Default()
	require.NoError(t, err)
	bed := season.Bed{Site: microclimate.Site{Latitude: lat, Longitude: lon, ElevationM: elevation, Soil: microclimate.Loam}, Zone: zone}
	load := func(year int) (season.Winter, error) {
		hours, missing, err := weatherfile.WinterHours(days, year, lat, lon, zone)
		return season.Winter{Year: year, Hours: hours, MissingDays: missing}, err
	}
	began := time.Now()
	outcomes, err := season.Run(years, 2, load, func(w season.Winter) ([]season.Outcome, error) { return bed.Play(catalogue.All(), w) }, nil)
	require.NoError(t, err)
	t.Logf("%d winters, %d crops: %s", len(years), len(catalogue.All()), time.Since(began).Round(time.Millisecond))
	outlook := season.Summarise(outcomes)
	t.Log("\n" + outlook.Text(unit.US, nil))
	assertRows(t, outlook, len(catalogue.All()))
	assertFirstFrosts(t, days, outcomes)
}

func assertRows(t *testing.T, outlook season.Outlook, crops int) {
	rows := map[string]season.Row{}
	for _, r := range outlook.Rows {
		rows[r.Crop] = r
		require.Equal(t, 88, r.Winters+r.Incomplete, r.Crop)
		assert.Zero(t, r.Incomplete)
		for i := 1; i < len(r.OutBy); i++ {
			assert.LessOrEqual(t, number(r.OutBy[i-1]), number(r.OutBy[i]), "%s: quantiles in order", r.Crop)
		}
	}
	require.Len(t, rows, crops)
	order := []string{"tomato", "dill", "chard", "kale-curly", "spinach"}
	for i := range season.Shares {
		for k := 1; k < len(order); k++ {
			a, b := rows[order[k-1]].OutBy[i], rows[order[k]].OutBy[i]
			assert.Less(t, number(a), number(b), "%s before %s in %v of the winters", order[k-1], order[k], season.Shares[i])
		}
	}
	assert.InDelta(t, 20, rows["chard"].Low.Else(99).Fahrenheit(), 4, "chard stands to about 20 °F in a normal autumn")
	assert.InDelta(t, 15, rows["kale-curly"].Low.Else(99).Fahrenheit(), 4, "kale stands to about 15 °F")
	assert.Less(t, rows["spinach"].Low.Else(99).Fahrenheit(), 15.0, "spinach stands below 15 °F")
	assert.Greater(t, rows["tomato"].Low.Else(-99).Fahrenheit(), 28.0, "tomatoes die at the first frost")
}

// number is the day of a quantile, after all days where it stands.
func number(q season.Quantile) int { return q.Days.Else(1000) }

// assertFirstFrosts holds the hours and the naming of nights against the file
// itself: the first date of a winter with a minimum at or below 0 °C is the
// morning after the first frost night.
func assertFirstFrosts(t *testing.T, days []weatherfile.Day, outcomes []season.Outcome) {
	first := map[int]farm.Day{}
	for _, d := range days {
		year := d.Date.Start(time.UTC).AddDate(0, -7, 0).Year()
		if _, ok := first[year]; !ok && d.Min.Else(99) <= 0 && d.Date >= season.First(year) {
			first[year] = d.Date
		}
	}
	for _, o := range outcomes {
		require.Equal(t, first[o.Winter].Add(-1), o.FirstFrost.Else(""), "winter %s", season.Name(o.Winter))
	}
}

func TestAWinterWithAMissingDaySaysSo(t *testing.T) {
	days := milwaukee(t)
	i := slices.IndexFunc(days, func(d weatherfile.Day) bool { return d.Date == "1951-01-10" })
	require.Positive(t, i)
	days = slices.Delete(slices.Clone(days), i, i+2)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	hours, missing, err := weatherfile.WinterHours(days, 1950, lat, lon, zone)
	require.NoError(t, err)
	assert.Equal(t, 2, missing)
	catalogue, err := crop.Default()
	require.NoError(t, err)
	bed := season.Bed{Site: microclimate.Site{Latitude: lat, Longitude: lon, Soil: microclimate.Loam}, Zone: zone}
	outcomes, err := bed.Play(catalogue.All(), season.Winter{Year: 1950, Hours: hours, MissingDays: missing})
	require.NoError(t, err)
	text := season.Summarise(outcomes).Text(unit.Metric, nil)
	assert.Contains(t, text, "Winter 1950/51 is incomplete, 2 missing days: not counted.")
	assert.Contains(t, text, "Complete winters: 0.")
}
