package weatherfile

import (
	"bufio"
	"compress/gzip"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func corpus(t *testing.T, name string) *os.File {
	t.Helper()
	dir := os.Getenv("WINTERSTAND_CORPUS")
	if dir == "" {
		t.Skip("SKIPPED: WINTERSTAND_CORPUS is not set, so the observations are not there to read")
	}
	f, err := os.Open(filepath.Join(dir, "observations", name))
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close() })
	return f
}

// Source: the provenance note of the file (GHCN-Daily USW00014839): 32,283 rows,
// tmin missing 0, tmax 1, precipitation 138, snowfall 451, snow depth 423, range
// -32.2..39.4 °C, snow depth 83.8 cm on 1979-01-27, rain 173 mm on 1986-08-06.
func TestMilwaukee(t *testing.T) {
	file := corpus(t, "milwaukee_daily_1938_2026.csv.gz")
	f, err := Read(file, file.Name(), Options{})
	require.NoError(t, err)
	require.Len(t, f.Days, 32283)
	assert.Equal(t, 1, f.Reordered, "8 June 1939 stands after 30 June")
	missing := [5]int{}
	low, high := unit.Celsius(99), unit.Celsius(-99)
	byDate := map[farm.Day]Day{}
	for _, d := range f.Days {
		byDate[d.Date] = d
		low, high = min(low, d.Min.Else(99)), max(high, d.Max.Else(-99))
		for i, known := range []bool{d.Min.Known(), d.Max.Known(), d.Precip.Known(), d.Snowfall.Known(), d.SnowDepth.Known()} {
			if !known {
				missing[i]++
			}
		}
	}
	assert.Equal(t, [5]int{0, 1, 138, 451, 423}, missing)
	assert.Equal(t, unit.Celsius(-32.2), low)
	assert.Equal(t, unit.Celsius(39.4), high)
	assert.InDelta(t, 83.8, byDate["1979-01-27"].SnowDepth.Else(0), 0.05)
	assert.InDelta(t, 173, byDate["1986-08-06"].Precip.Else(0), 0.5)

	filled, n := FillMax(f.Days)
	assert.Equal(t, 1, n)
	assert.Len(t, filled, 32283)
}

// The course is held against measured hours: air at Old Town, Maine (44.93 N,
// 68.69 W, from memory), hardwood stand, rebuilt from its own daily minima and
// maxima. Straight lines from each minimum to the maximum and on to the
// next minimum are logged beside it: at this forest site they are closer.
func TestCourseAgainstMeasuredHours(t *testing.T) {
	zone := time.FixedZone("EST", -5*3600)
	measured := oldTown(t, zone)
	var days []Day
	for d := farm.Day("2018-11-27"); d < "2022-06-01"; d = d.Add(1) {
		days = append(days, summary(measured, d, zone))
	}
	hours, err := FromDaily(days, 44.93, -68.69, zone)
	require.NoError(t, err)
	rmse, bias, n := against(hours, measured, zone)
	line, _, _ := against(straight(days, hours, zone), measured, zone)
	t.Logf("hours %d, RMSE %.2f K, bias %+.2f K; straight lines RMSE %.2f K", n, rmse, bias, line)
	require.Greater(t, n, 15000)
	assert.Less(t, rmse, 2.5)
	assert.InDelta(t, 0, bias, 0.6)
	assert.Less(t, rmse, line+0.5)
}

// against compares hours from October to May with what was measured.
func against(hours []weather.Hour, measured map[int64]float64, zone *time.Location) (rmse, bias float64, n int) {
	for _, h := range hours {
		v, ok := h.Air.Get()
		m, there := measured[h.At.Unix()]
		if mo := h.At.In(zone).Month(); ok && there && (mo >= 10 || mo <= 5) {
			n++
			rmse += (float64(v) - m) * (float64(v) - m)
			bias += float64(v) - m
		}
	}
	return math.Sqrt(rmse / float64(n)), bias / float64(n), n
}

// straight joins the minima and maxima by lines, at the same hours.
func straight(days []Day, hours []weather.Hour, zone *time.Location) []weather.Hour {
	type point struct{ at, v float64 }
	var points []point
	for _, d := range days {
		a := anchorOf(d, 44.93, -68.69, zone)
		points = append(points, point{float64(a.rise.Unix()), float64(d.Min.Else(unit.Celsius(math.NaN())))},
			point{float64(a.peak.Unix()), float64(d.Max.Else(unit.Celsius(math.NaN())))})
	}
	out, i := make([]weather.Hour, len(hours)), 0
	for k, h := range hours {
		at := float64(h.At.Unix())
		for i+2 < len(points) && at >= points[i+1].at {
			i++
		}
		v := points[i].v + (points[i+1].v-points[i].v)*(at-points[i].at)/(points[i+1].at-points[i].at)
		out[k] = weather.Hour{At: h.At, Air: orMissing(unit.Celsius(v), !math.IsNaN(v))}
	}
	return out
}

func oldTown(t *testing.T, zone *time.Location) map[int64]float64 {
	z, err := gzip.NewReader(corpus(t, "oldtown_hourly_2018_2022.csv.gz"))
	require.NoError(t, err)
	out := map[int64]float64{}
	for lines := bufio.NewScanner(z); lines.Scan(); {
		cells := strings.Split(lines.Text(), ",")
		if cells[0] != "HW" || cells[2] == "" {
			continue
		}
		at, err := time.ParseInLocation("2006-01-02T15:04", cells[1], zone)
		require.NoError(t, err)
		v, err := strconv.ParseFloat(cells[2], 64)
		require.NoError(t, err)
		out[at.Unix()] = v
	}
	return out
}

// summary is minimum and maximum of a day with all its hours.
func summary(hours map[int64]float64, d farm.Day, zone *time.Location) Day {
	out, start := Day{Date: d}, d.Start(zone).Unix()
	low, high := math.Inf(1), math.Inf(-1)
	for i := range int64(24) {
		v, ok := hours[start+i*3600]
		if !ok {
			return out
		}
		low, high = min(low, v), max(high, v)
	}
	out.Min, out.Max = c(low), c(high)
	return out
}
