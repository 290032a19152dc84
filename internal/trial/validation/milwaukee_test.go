package validation

import (
	"compress/gzip"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Milwaukee airport, daily: NOAA GHCN-Daily USW00014839, US Government data.
type day struct {
	at                    time.Time
	low, high, rain, snow float64 // NaN where missing
}

func milwaukee(t *testing.T) []day {
	dir := os.Getenv("WINTERSTAND_CORPUS")
	if dir == "" {
		t.Skip("SKIPPED: set WINTERSTAND_CORPUS to the folder that holds observations/milwaukee_*")
	}
	f, err := os.Open(filepath.Join(dir, "observations", "milwaukee_daily_1938_2026.csv.gz"))
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	rows, err := csv.NewReader(z).ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	value := func(r []string, name string) float64 {
		if v, ok := number(r[column[name]]); ok {
			return v
		}
		return math.NaN()
	}
	var all []day
	for _, r := range rows[1:] {
		at, err := time.Parse(time.DateOnly, r[column["date"]])
		require.NoError(t, err)
		all = append(all, day{at, value(r, "tmin_c"), value(r, "tmax_c"), value(r, "precip_mm"), value(r, "snow_depth_cm")})
	}
	return all
}

// hours of a day: the low at 6, the high at 15 h local time, precipitation spread
// evenly under a closed sky; wind of 4.5 m/s and 65 % cloud as an ordinary winter
// day there has (from memory).
func (d day) hours(begin time.Time, nextLow float64) []weather.Hour {
	all := make([]weather.Hour, 24)
	for i := range all {
		h := weather.Hour{
			At: begin.Add(time.Duration(i) * time.Hour), Wind: unit.Some(4.5), Cloud: unit.Some(0.65),
			Air: unit.Some(unit.Celsius(d.airAt(float64(i), nextLow))), DewPoint: unit.Some(unit.Celsius(d.low - 1)),
		}
		if !math.IsNaN(d.rain) {
			h.Precip = unit.Some(d.rain / 24)
		}
		if d.rain > 0 {
			air, _ := h.Air.Get()
			h.Cloud, h.DewPoint = unit.Some(1.0), unit.Some(air-1)
		}
		all[i] = h
	}
	return all
}

func (d day) airAt(hour, nextLow float64) float64 {
	span := d.high - d.low
	switch {
	case hour < 6:
		return d.low + 0.15*span*(6-hour)/6
	case hour < 15:
		return d.low + span*(1-math.Cos(math.Pi*(hour-6)/9))/2
	}
	fall := 0.85 * (d.high - nextLow)
	return d.high - fall*math.Sin(math.Pi/2*(hour-15)/9)
}

// Snow that the model makes of precipitation, settles and melts, against 55
// winters of measured depth, nothing fitted. The depth is read in the morning and
// the wind blows some of it away, so the bars are wide.
func TestModelledSnowAtMilwaukee(t *testing.T) {
	sum := map[time.Month]*sums{}
	winters(t, milwaukee(t), func(d day, g *microclimate.Ground) {
		s := sum[d.at.Month()]
		if s == nil {
			s = &sums{}
			sum[d.at.Month()] = s
		}
		off := g.SnowCm() - d.snow
		s.n++
		s.off += off
		s.square += off * off
		s.lowTruth += d.snow
	})
	for _, m := range []time.Month{time.December, time.January, time.February, time.March} {
		s := sum[m]
		n := float64(s.n)
		bias, rms, mean := s.off/n, math.Sqrt(s.square/n), s.lowTruth/n
		t.Logf("%s: %d days, measured %.1f cm, bias %+.1f cm, rms %.1f cm", m, s.n, mean, bias, rms)
		assert.Greater(t, s.n, 1500)
		assert.InDelta(t, 0, bias, 2.5, m)
		assert.Less(t, rms, 9.5, m)
	}
}

// winters steps grass ground from October to April of every winter since 1970
// and shows each evening of which the depth is known.
func winters(t *testing.T, days []day, see func(d day, g *microclimate.Ground)) {
	site := microclimate.Site{Latitude: 42.95, Longitude: -87.9, ElevationM: 205, Soil: microclimate.Loam}
	var g microclimate.Ground
	running := false
	for i, d := range days[:len(days)-1] {
		if d.at.Year() >= 1970 && d.at.Month() == time.October && d.at.Day() == 1 {
			g, running = microclimate.NewGround(site, d.at.Add(6*time.Hour)), true
		}
		nextLow := days[i+1].low
		running = running && d.at.Month() != time.May && !math.IsNaN(d.low+d.high+nextLow)
		if !running {
			continue
		}
		for _, h := range d.hours(g.At(), nextLow) {
			require.NoError(t, g.Step(&site, microclimate.Dressing{Surface: microclimate.Grass}, h))
		}
		if !math.IsNaN(d.snow) {
			see(d, &g)
		}
	}
}
