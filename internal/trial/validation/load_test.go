package validation

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

const (
	goodSites = "site,file,latitude,longitude,elevation_m,soil,surface\nmeadow,meadow.csv,45,-93,250,loam,grass\n"
	goodRows  = `time,air_c,soil_10cm_c,soil_5cm_c,humidity_fraction,wind_ms,snow_depth_cm,precip_mm
2026-01-01T00:00:00Z,-5.5,-0.5,-1.0,0.8,2,10,0
2026-01-01T01:00:00Z,-6,-0.5,,,,,
2026-01-01T03:00:00+01:00,-7,-0.6,-1.2,0.9,1.5,10,0.2
`
)

func folderOf(sites, rows string) fstest.MapFS {
	return fstest.MapFS{SitesFile: {Data: []byte(sites)}, "meadow.csv": {Data: []byte(rows)}}
}

func TestLoadReadsAFolder(t *testing.T) {
	all, err := Load(folderOf(goodSites, goodRows))
	require.NoError(t, err)
	require.Len(t, all, 1)
	st := all[0]
	assert.Equal(t, "meadow", st.Name)
	assert.Equal(t, microclimate.Grass, st.Surface)
	assert.Equal(t, microclimate.Loam, st.Site.Soil)
	assert.Equal(t, 250.0, st.Site.ElevationM)
	assert.Equal(t, []float64{5, 10}, st.Depths, "sorted, whatever the order of the columns")
	require.Len(t, st.Rows, 3)
	assert.Equal(t, time.Date(2026, 1, 1, 2, 0, 0, 0, time.UTC), st.Rows[2].Hour.At, "in UTC")
	assert.Equal(t, unit.Some(unit.Celsius(-1.0)), st.Rows[0].Soil[0])
	assert.False(t, st.Rows[1].Soil[0].Known(), "an empty cell is missing")
	assert.False(t, st.Rows[1].Hour.Wind.Known())
	assert.False(t, st.Rows[1].Hour.DewPoint.Known())
	dew, ok := st.Rows[0].Hour.DewPoint.Get()
	require.True(t, ok)
	assert.InDelta(t, float64(microclimate.DewPoint(-5.5, 0.8)), float64(dew), 1e-12)
}

func TestLoadReadsGzip(t *testing.T) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err := z.Write([]byte(goodRows))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	folder := fstest.MapFS{
		SitesFile:       {Data: []byte(strings.ReplaceAll(goodSites, "meadow.csv", "meadow.csv.gz"))},
		"meadow.csv.gz": {Data: b.Bytes()},
	}
	all, err := Load(folder)
	require.NoError(t, err)
	assert.Len(t, all[0].Rows, 3)
}

func TestLoadSaysWhatIsWrongAndWhere(t *testing.T) {
	for _, r := range []struct{ name, sites, rows, want string }{
		{"unknown soil", strings.ReplaceAll(goodSites, "loam", "mud"), goodRows, `sites.csv line 2, column soil: soil "mud"`},
		{"unknown surface", strings.ReplaceAll(goodSites, "grass", "lava"), goodRows, `column surface: surface "lava"`},
		{"latitude", strings.ReplaceAll(goodSites, "45", "north"), goodRows, `column latitude: "north": must be a number`},
		{"off the earth", strings.ReplaceAll(goodSites, "45", "95"), goodRows, "sites.csv line 2: site latitude 95"},
		{"no such file", strings.ReplaceAll(goodSites, "meadow.csv", "moor.csv"), goodRows, "station meadow: open moor.csv"},
		{"column of sites", strings.ReplaceAll(goodSites, "elevation_m", "height"), goodRows, `sites.csv line 1: column "elevation_m" is missing`},
		{"no station", "site,file,latitude,longitude,elevation_m,soil,surface\n", goodRows, "sites.csv: no station"},
		{"unknown column", goodSites, strings.ReplaceAll(goodRows, "wind_ms", "wind_mph"), `meadow.csv line 1: column "wind_mph"`},
		{"no air", goodSites, strings.ReplaceAll(goodRows, "air_c", "shortwave_wm2"), `column "air_c" is missing`},
		{"no soil", goodSites, "time,air_c\n2026-01-01T00:00:00Z,1\n", "no soil temperature column such as soil_5cm_c"},
		{"twice", goodSites, strings.ReplaceAll(goodRows, "soil_10cm_c", "soil_5cm_c"), `column "soil_5cm_c" stands twice`},
		{"not a number", goodSites, strings.ReplaceAll(goodRows, "-6,", "cold,"), `meadow.csv line 3, column air_c: "cold": must be a number between -90 and 65`},
		{"NaN", goodSites, strings.ReplaceAll(goodRows, "-6,", "NaN,"), `column air_c: "NaN"`},
		{"a sentinel", goodSites, strings.ReplaceAll(goodRows, "-6,", "-9999,"), `column air_c: "-9999"`},
		{"humidity in percent", goodSites, strings.ReplaceAll(goodRows, "0.9,", "90,"), `meadow.csv line 4, column humidity_fraction: "90"`},
		{"time without zone", goodSites, strings.ReplaceAll(goodRows, "T01:00:00Z", "T01:00:00"), `column time: "2026-01-01T01:00:00": must be RFC 3339`},
		{"half hour", goodSites, strings.ReplaceAll(goodRows, "T01:00", "T01:30"), "row 2: time 2026-01-01T01:30:00Z: must be a full hour"},
		{"backward", goodSites, strings.ReplaceAll(goodRows, "T01:00", "T00:00"), "row 2: time 2026-01-01T00:00:00Z: must be later"},
		{"a hole of years", goodSites, strings.ReplaceAll(goodRows, "2026-01-01T03", "2029-01-01T03"), "more than a year after the row before"},
		{"ragged", goodSites, goodRows + "2026-01-01T05:00:00Z,1\n", "meadow.csv: record on line 5"},
		{"empty", goodSites, "", "meadow.csv: header: EOF"},
		{"no rows", goodSites, "time,air_c,soil_5cm_c\n", "station meadow: no rows"},
	} {
		t.Run(r.name, func(t *testing.T) {
			_, err := Load(folderOf(r.sites, r.rows))
			assert.ErrorContains(t, err, r.want)
		})
	}
	_, err := Load(fstest.MapFS{})
	assert.ErrorContains(t, err, "list of stations: open sites.csv")
}

func FuzzReadRows(f *testing.F) {
	f.Add(goodRows)
	f.Add("time,air_c,soil_5cm_c\n2026-01-01T00:00:00Z,,\n")
	f.Add("time,air_c,soil_2.5cm_c\n\"2026-01-01T00:00:00+05:30\",1,2\n")
	f.Add("\ufefftime,air_c,soil_0cm_c\n2026-01-01T00:00:00Z,1e3,NaN\n")
	f.Fuzz(func(t *testing.T, text string) {
		depths, rows, err := ReadRows("rows.csv", strings.NewReader(text))
		if err != nil {
			return
		}
		for _, r := range rows {
			if len(r.Soil) != len(depths) {
				t.Fatalf("%d temperatures for %d depths", len(r.Soil), len(depths))
			}
			if a, ok := r.Hour.Air.Get(); ok && !a.Finite() {
				t.Fatalf("air %v", a)
			}
		}
	})
}

func TestScoreIsZeroAgainstItself(t *testing.T) {
	st := madeStation(t)
	for i, opt := range []Options{{SnowGiven: true}, {SnowGiven: true, SpinUp: true}} {
		require.NoError(t, Run(st, opt, func(row Row, _ bool, g *microclimate.Ground) {
			at := int(row.Hour.At.Sub(st.Rows[0].Hour.At) / time.Hour)
			for j, d := range st.Depths {
				st.Rows[at].Soil[j] = unit.Some(g.SoilAt(d))
			}
		}))
		lines, err := Score(st, opt)
		require.NoError(t, err)
		require.Len(t, lines, 2, i)
		for _, l := range lines {
			assert.Equal(t, "2025-26", l.Winter)
			assert.Equal(t, 31*24, l.N, "December only; November is not scored")
			assert.Zero(t, l.RMSE)
			assert.Zero(t, l.Bias)
			assert.Equal(t, l.MinObserved, l.MinModelled)
		}
	}
}

func TestScoreSeesABiasAndAColdestHour(t *testing.T) {
	st := madeStation(t)
	require.NoError(t, Run(st, Options{SnowGiven: true}, func(row Row, _ bool, g *microclimate.Ground) {
		at := int(row.Hour.At.Sub(st.Rows[0].Hour.At) / time.Hour)
		st.Rows[at].Soil[0] = unit.Some(g.SoilAt(5) + 1.5)
	}))
	lines, err := Score(st, Options{SnowGiven: true, Settle: 45 * 24 * time.Hour})
	require.NoError(t, err)
	require.Len(t, lines, 1, "10 cm was not observed")
	assert.InDelta(t, -1.5, float64(lines[0].Bias), 1e-9)
	assert.InDelta(t, 1.5, float64(lines[0].RMSE), 1e-9)
	assert.InDelta(t, -1.5, float64(lines[0].MinError()), 1e-9)
	assert.Equal(t, 16*24, lines[0].N, "what is settling is not scored")
}

func TestScoreRefuses(t *testing.T) {
	st := madeStation(t)
	_, err := Score(st, Options{})
	assert.True(t, errors.Is(err, ErrNoPrecipitation))
	st.Rows[5].Hour.Cloud = unit.Some(7.0)
	_, err = Score(st, Options{SnowGiven: true})
	assert.ErrorContains(t, err, "station made: hour 2025-11-01T05:00:00Z: cloud 7")
}

// madeStation has November and December of hours, air only, snow in December.
func madeStation(t *testing.T) Station {
	st := Station{Name: "made", Depths: []float64{5, 10}, Surface: microclimate.Grass,
		Site: microclimate.Site{Latitude: 45, Longitude: -93, Soil: microclimate.Loam}}
	start := time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)
	for i := range 61 * 24 {
		r := Row{Soil: make([]unit.Maybe[unit.Celsius], 2)}
		r.Hour.At = start.Add(time.Duration(i) * time.Hour)
		r.Hour.Air = unit.Some(unit.Celsius(5 - float64(i)/100 + float64(i%24)/6))
		r.Hour.SnowDepth = unit.Some(float64(i / 730 * 8))
		st.Rows = append(st.Rows, r)
	}
	require.NoError(t, st.Check())
	return st
}

func TestGapsAreBridgedAndLongOnesNotScored(t *testing.T) {
	st := madeStation(t)
	none := unit.None[unit.Celsius]()
	for _, i := range []int{100, 101} {
		st.Rows[i].Hour.Air = none
	}
	for i := 200; i < 210; i++ {
		st.Rows[i].Hour.Air = none
	}
	st.Rows[0].Hour.Air = none
	rows := append(append([]Row{}, st.Rows[:300]...), st.Rows[330:]...) // rows that are not there at all
	all := hourly(rows)
	require.Len(t, all, len(st.Rows))
	at := func(i int) float64 { a, _ := all[i].Hour.Air.Get(); return float64(a) }
	a, _ := st.Rows[99].Hour.Air.Get()
	b, _ := st.Rows[102].Hour.Air.Get()
	assert.InDelta(t, float64(a)+float64(b-a)/3, at(100), 1e-9, "straight across")
	assert.False(t, all[100].bridged)
	assert.InDelta(t, at(205-24), at(205), 1e-9, "the day before")
	assert.True(t, all[205].bridged)
	assert.True(t, all[310].bridged)
	assert.True(t, all[0].bridged, "nothing before it to draw from")
	assert.InDelta(t, at(1), at(0), 1e-9)
	for i, r := range all {
		assert.True(t, r.Hour.Air.Known(), i)
		assert.Equal(t, st.Rows[0].Hour.At.Add(time.Duration(i)*time.Hour), r.Hour.At)
	}
}

func TestWinterOf(t *testing.T) {
	for _, r := range []struct {
		at       string
		latitude float64
		want     string
	}{
		{"2025-12-01", 45, "2025-26"}, {"2026-03-31", 45, "2025-26"}, {"2026-04-01", 45, ""}, {"2025-11-30", 45, ""},
		{"1999-12-31", 45, "1999-00"}, {"2025-06-15", -40, "2024-25"}, {"2025-12-15", -40, ""},
	} {
		at, err := time.Parse(time.DateOnly, r.at)
		require.NoError(t, err)
		assert.Equal(t, r.want, winterOf(at, r.latitude), fmt.Sprint(r))
	}
}

func TestWriteTable(t *testing.T) {
	var b strings.Builder
	require.NoError(t, WriteTable(&b, []Line{{Site: "meadow", Winter: "2025-26", DepthCm: 5, N: 2900, Bias: -0.25, RMSE: 0.61, MinModelled: -3.2, MinObserved: -2.9}}))
	lines := strings.Split(b.String(), "\n")
	assert.Equal(t, strings.Fields("site winter depth_cm hours bias_k rmse_k min_modelled_c min_observed_c"), strings.Fields(lines[0]))
	assert.Equal(t, strings.Fields("meadow 2025-26 5 2900 -0.25 0.61 -3.20 -2.90"), strings.Fields(lines[1]))
}
