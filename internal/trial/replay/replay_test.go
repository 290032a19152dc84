package replay_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/hardiness"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/trial/replay"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var (
	site    = microclimate.Site{Latitude: 46, Longitude: -92, ElevationM: 300, Soil: microclimate.Loam}
	october = time.Date(2024, 10, 1, 0, 0, 0, 0, time.UTC)
	usual   = bed.Limits{WindChill: farm.DefaultWindChillLimit, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm}
)

func named(t require.TestingT, name string) crop.Crop {
	catalogue, err := crop.Default()
	require.NoError(t, err)
	c, err := catalogue.Find(name)
	require.NoError(t, err)
	return c
}

func bedOf(t require.TestingT, name string) *replay.Bed {
	return &replay.Bed{
		Class: replay.Plain(site, named(t, name), microclimate.NoCover, 0), Crop: named(t, name),
		Depths: []float64{0, 5, 20}, Limits: usual,
	}
}

// sine is days of weather around a mean that falls by drop K a day; the low
// comes at 12 h UTC, which is dawn at the place.
func sine(days int, mean, swing, drop float64) []weather.Hour {
	out := make([]weather.Hour, 24*days)
	for i := range out {
		day := float64(i) / 24
		out[i] = weather.Hour{
			At: october.Add(time.Duration(i) * time.Hour), Precip: unit.Some(0.0),
			Air:   unit.Some(unit.Celsius(mean - drop*day + swing*math.Cos(2*math.Pi*(day)))),
			Cloud: unit.Some(0.6), Wind: unit.Some(3.0),
		}
	}
	return out
}

func play(t require.TestingT, b *replay.Bed, hours []weather.Hour, members []replay.Member) []replay.Row {
	var rows []replay.Row
	require.NoError(t, b.Check())
	require.NoError(t, b.Play(hours, members, func(day []replay.Row) error {
		rows = append(rows, day...)
		return nil
	}))
	return rows
}

// The rows are those of the service's own book, taken straight through.
func TestRowsAreTheServicesOwn(t *testing.T) {
	b, hours := bedOf(t, "chard"), sine(40, 8, 6, 0.4)
	rows := play(t, b, hours, nil)
	require.Len(t, rows, len(hours))
	plants := []bed.Plant{{Crop: b.Crop}}
	book := bed.NewBook(&b.Class, plants, hours[0].At)
	for i := range hours {
		require.NoError(t, book.Advance(&b.Class, plants, hours[i:i+1]))
		s := book.Plants[plants[0].Key()]
		require.Equal(t, s.Sold.LT50, rows[i].Tolerance)
		require.Equal(t, s.Sold.Quality, rows[i].Quality)
		require.Equal(t, book.Ground.SoilAt(5), rows[i].Soil[1])
		require.Equal(t, hours[i].At, rows[i].At)
	}
	assert.Less(t, rows[len(rows)-1].Quality, 1.0, "the course is cold enough to show anything at all")
}

// Workable hours of the whole stretch at once are those found day by day.
func TestWorkableDoesNotDependOnMidnight(t *testing.T) {
	b, hours := bedOf(t, "chard"), sine(20, 3, 6, 0.2)
	rows := play(t, b, hours, nil)
	c := bed.Course{}
	for _, r := range rows {
		c.Air, c.Sold = append(c.Air, float32(r.Air)), append(c.Sold, float32(r.Leaf))
		c.Snow, c.Frost = append(c.Snow, float32(r.SnowCm)), append(c.Frost, float32(r.FrozenCm))
	}
	want := bed.Workable(&bed.Plant{Crop: b.Crop}, &b.Class.Site, hours, &c, usual)
	some := 0
	for i := range rows {
		require.Equal(t, want[i], rows[i].Workable, hours[i].At)
		if want[i] {
			some++
		}
	}
	assert.Positive(t, some)
	assert.Less(t, some, len(rows)/2)
}

func TestStartTolerance(t *testing.T) {
	b := bedOf(t, "kale-curly")
	b.Start = unit.Some(b.Crop.Sold.Full)
	rows := play(t, b, sine(1, 0, 3, 0), nil)
	assert.InDelta(t, float64(b.Crop.Sold.Full), float64(rows[0].Tolerance), 0.5)
	for _, l := range []unit.Celsius{b.Crop.Sold.Full - 0.1, b.Crop.Sold.Unhardened + 0.1, unit.Celsius(math.NaN())} {
		b.Start = unit.Some(l)
		assert.ErrorContains(t, b.Check(), "kale", l)
	}
	assert.Equal(t, hardiness.Start(b.Crop.Sold, b.Crop.Sold.Full).Survival, 1.0)
}

func TestWhatCannotBePlayed(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*replay.Bed)
		says   string
	}{
		{"above the ground", func(b *replay.Bed) { b.Depths = []float64{-1} }, "depth -1 cm"},
		{"below the column", func(b *replay.Bed) { b.Depths = []float64{900} }, "depth 900 cm"},
		{"no depth at all", func(b *replay.Bed) { b.Depths = []float64{math.NaN()} }, "depth NaN cm"},
		{"no such cover", func(b *replay.Bed) { b.Class.Spans[0].Cover = "roof" }, `cover "roof"`},
		{"straw to the sky", func(b *replay.Bed) { b.Class.Spans[0].MulchCm = 500 }, "mulch 500 cm"},
		{"off the earth", func(b *replay.Bed) { b.Class.Site.Latitude = 91 }, "latitude 91"},
		{"no such soil", func(b *replay.Bed) { b.Class.Site.Soil = "moon" }, `soil "moon"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bedOf(t, "chard")
			c.change(b)
			assert.ErrorContains(t, b.Check(), c.says)
		})
	}
}

func TestGaps(t *testing.T) {
	hours := sine(4, 5, 4, 0)
	missing := func(from, to int) {
		for i := from; i < to; i++ {
			hours[i].Air = unit.None[unit.Celsius]()
		}
	}
	missing(0, 5)
	missing(20, 22)
	missing(40, 50)
	missing(94, 96)
	got, gaps, err := replay.Hours(hours)
	require.NoError(t, err)
	assert.Equal(t, replay.Gaps{From: hours[5].At, To: hours[94].At, CutBefore: 5, CutAfter: 2, Bridged: 12, Long: 10}, gaps)
	require.Len(t, got, 89)
	for _, h := range got {
		require.True(t, h.Air.Known())
	}
	left := append(append([]weather.Hour{}, hours[5:40]...), hours[50:94]...)
	same, again, err := replay.Hours(left)
	require.NoError(t, err)
	assert.Equal(t, 12, again.Bridged, "hours that are not there at all are bridged as well")
	assert.Equal(t, airs(got), airs(same))
	missing(0, 96)
	_, _, err = replay.Hours(hours)
	assert.Error(t, err)
	_, _, err = replay.Hours(nil)
	assert.Error(t, err)
}

func airs(hours []weather.Hour) []unit.Celsius {
	var out []unit.Celsius
	for _, h := range hours {
		out = append(out, h.Air.Else(unit.Celsius(math.Inf(1))))
	}
	return out
}

func TestMembersSpreadAroundThePlainCourse(t *testing.T) {
	b, hours := bedOf(t, "chard"), sine(20, 4, 5, 0.4)
	rows := play(t, b, hours, replay.Members(51, "a.csv", hours))
	plain := play(t, b, hours, nil)
	again := play(t, b, hours, replay.Members(51, "a.csv", hours))
	other := play(t, b, hours, replay.Members(51, "b.csv", hours))
	width, n := 0.0, 0.0
	for i, r := range rows {
		bands := append([]replay.Band{r.Bands.Leaf, r.Bands.Survival, r.Bands.Quality}, r.Bands.Soil...)
		for _, x := range bands {
			require.LessOrEqual(t, x.P10, x.P50)
			require.LessOrEqual(t, x.P50, x.P90)
		}
		require.Equal(t, plain[i].Leaf, r.Leaf, "members do not touch the plain course")
		width += r.Bands.Leaf.P90 - r.Bands.Leaf.P10
		n++
	}
	assert.Equal(t, rows, again, "the same name gives the same members")
	assert.NotEqual(t, rows[200].Bands, other[200].Bands)
	// σ of a forecast for the coming night is 2.1 K: a normal spread of 2·1.2816·2.1 K.
	assert.InDelta(t, 5.38, width/n, 0.6)
}

func TestADayIsItsWorst(t *testing.T) {
	b, hours := bedOf(t, "chard"), sine(12, 2, 6, 0.8)
	rows := play(t, b, hours, replay.Members(9, "x", hours))
	for d := 0; d < len(rows); d += 24 {
		day := replay.Daily(rows[d : d+24])
		for _, r := range rows[d : d+24] {
			require.LessOrEqual(t, day.Air, r.Air)
			require.LessOrEqual(t, day.Leaf, r.Leaf)
			require.LessOrEqual(t, day.Soil[0], r.Soil[0])
			require.LessOrEqual(t, day.Quality, r.Quality)
			require.LessOrEqual(t, day.Survival, r.Survival)
			require.GreaterOrEqual(t, day.Kill, r.Kill)
			require.LessOrEqual(t, day.Bands.Leaf.P10, r.Bands.Leaf.P10)
			require.LessOrEqual(t, day.Bands.Soil[2].P90, r.Bands.Soil[2].P90)
			if r.Air == day.Air {
				require.Equal(t, r.At, day.At)
			}
		}
	}
}

func TestTable(t *testing.T) {
	b, hours := bedOf(t, "chard"), sine(1, 2, 6, 0)
	b.Depths = []float64{0, 2.5}
	for _, c := range []struct {
		members []replay.Member
		header  []string
	}{
		{nil, []string{"time", "air_c", "leaf_c", "tolerance_c", "kill_fraction", "survival", "quality", "snow_cm", "frozen_cm", "soil_0cm_c", "soil_2.5cm_c", "workable"}},
		{replay.Members(5, "x", hours), []string{"time", "air_c", "leaf_c", "tolerance_c", "kill_fraction", "survival", "quality", "snow_cm", "frozen_cm", "soil_0cm_c", "soil_2.5cm_c", "workable",
			"leaf_p10_c", "leaf_p50_c", "leaf_p90_c", "soil_0cm_p10_c", "soil_0cm_p50_c", "soil_0cm_p90_c", "soil_2.5cm_p10_c", "soil_2.5cm_p50_c", "soil_2.5cm_p90_c",
			"survival_p10", "survival_p50", "survival_p90", "quality_p10", "quality_p50", "quality_p90"}},
	} {
		var out bytes.Buffer
		table := replay.NewTable(&out, b.Depths, c.members != nil)
		require.NoError(t, b.Play(hours, c.members, table.Write))
		got, err := csv.NewReader(&out).ReadAll()
		require.NoError(t, err)
		require.Len(t, got, 25)
		assert.Equal(t, c.header, got[0])
		assert.Equal(t, "2024-10-01T00:00:00Z", got[1][0])
		assert.Equal(t, "8.00", got[1][1])
		assert.Equal(t, "1.0000", got[1][5])
	}
}

// Colder is never safer: the same course so many kelvins colder loses as much or
// more, started from the same tolerance, where no hour hardens any more.
func TestColderIsNeverSafer(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		low := rapid.Float64Range(-20, 0).Draw(r, "low")
		colder := rapid.Float64Range(0, 6).Draw(r, "colder")
		b := bedOf(r, rapid.SampledFrom([]string{"chard", "kale-curly", "spinach", "tomato", "carrot"}).Draw(r, "crop"))
		b.Start = unit.Some(b.Crop.Sold.Full)
		last := func(mean float64) float64 {
			rows := play(r, b, sine(1, mean, 2, 0), nil)
			return rows[len(rows)-1].Quality
		}
		assert.LessOrEqual(r, last(low-colder), last(low)+1e-9)
	})
}
