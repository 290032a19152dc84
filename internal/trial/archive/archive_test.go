package archive

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/skill"
	"winterstand/internal/science/verdict"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var (
	place = microclimate.Site{Latitude: 43, Longitude: -90, ElevationM: 250, Soil: microclimate.Loam}
	zone  = time.FixedZone("UTC-6", -6*3600)
)

func named(t require.TestingT, names ...string) []crop.Crop {
	catalogue, err := crop.Default()
	require.NoError(t, err)
	var out []crop.Crop
	for _, n := range names {
		c, err := catalogue.Find(n)
		require.NoError(t, err)
		out = append(out, c)
	}
	return out
}

// exact is one course without any error.
func exact(hours []weather.Hour, _ time.Time, _ string) []bed.Member {
	return []bed.Member{{Error: make([]unit.Kelvins, len(hours))}}
}

// wave are days around a yearly wave with weather of σ 4 K on it, always 8 K
// between minimum and maximum, so that the usual range is the true one.
func wave(from farm.Day, n int, seed uint64) []weatherfile.Day {
	rng := rand.New(rand.NewPCG(seed, 1))
	out, z := make([]weatherfile.Day, n), 0.0
	for i := range out {
		date := from.Add(i)
		z = 0.7*z + math.Sqrt(1-0.49)*rng.NormFloat64()
		low := 1 - 16*math.Cos(2*math.Pi*float64(date.Start(time.UTC).YearDay()-20)/365) + 4*z
		out[i] = weatherfile.Day{Date: date, Min: unit.Some(unit.Celsius(low)), Max: unit.Some(unit.Celsius(low + 8))}
	}
	return out
}

// forecasts is an archive of issues at noon, each with so many mornings of a forecast.
func forecasts(days []weatherfile.Day, mornings int, low func(truth unit.Celsius, lead int) unit.Celsius) []weatherfile.Low {
	var out []weatherfile.Low
	for i := 1; i+mornings < len(days); i++ {
		for lead := 1; lead <= mornings; lead++ {
			truth, _ := days[i+lead].Min.Get()
			out = append(out, weatherfile.Low{Station: "here", IssuedOn: days[i].Date, Morning: days[i+lead].Date, LeadDays: lead, Low: low(truth, lead)})
		}
	}
	return out
}

func right(truth unit.Celsius, _ int) unit.Celsius { return truth }

func scored(t *testing.T, r Result) skill.Report {
	t.Helper()
	report, err := skill.Score(r.Rows, skill.DefaultOptions())
	require.NoError(t, err)
	return report
}

// The value of a perfect forecast is 1 by definition, and its Brier score 0
// (Richardson 2000; Brier 1950).
func TestPerfectForecastsAreWorthEverything(t *testing.T) {
	days := wave("2021-08-01", 2*365, 1)
	opt := Options{Site: place, Zone: zone, Crops: named(t, "lettuce-head", "chard", "kale-curly", "carrot"), Workers: 2, Members: exact}
	r, err := Replay([]Station{{Name: "here", Lows: forecasts(days, 5, right), Days: days}}, opt)
	require.NoError(t, err)
	report := scored(t, r)
	assert.Zero(t, report.Verdicts.Misses)
	assert.Zero(t, report.Verdicts.FalseAlarms)
	assert.Positive(t, report.Verdicts.Hits)
	assert.InDelta(t, 0, report.Brier.Score.Else(9), 1e-12)
	for _, p := range report.Value.Curve {
		assert.InDelta(t, 1, p.Ours.Else(-9), 1e-12, "C/L %v", p.CostLoss)
		assert.Less(t, p.CropList.Else(-9), 1.0)
	}
	for _, e := range r.Errors {
		assert.InDelta(t, 0, float64(e.RMSE), 1e-12)
	}
	// Two autumns, four beds, each announced on the five issues before its end.
	assert.Equal(t, 2*4*(5+4+3+2+1), report.Verdicts.Hits)
	assert.InDelta(t, 4*24, report.Lead.Longest.Else(0), 24, "five nights ahead, from noon to a morning")
}

// A forecast that never warns is worth what knowing the frequency is worth,
// nothing, wherever acting costs more than the loss is frequent.
func TestAForecastThatNeverWarnsIsWorthNothing(t *testing.T) {
	days := wave("2021-08-01", 2*365, 2)
	opt := Options{Site: place, Zone: zone, Crops: named(t, "chard", "kale-curly"), Workers: 2, Members: exact}
	mild := func(unit.Celsius, int) unit.Celsius { return 15 }
	r, err := Replay([]Station{{Name: "here", Lows: forecasts(days, 3, mild), Days: days}}, opt)
	require.NoError(t, err)
	report := scored(t, r)
	assert.Zero(t, report.Verdicts.Hits+report.Verdicts.FalseAlarms)
	assert.Equal(t, 2*2*(3+2+1), report.Verdicts.Misses)
	base := float64(report.Verdicts.Events()) / float64(report.Cases)
	for _, p := range report.Value.Curve {
		if p.CostLoss > base {
			assert.InDelta(t, 0, p.Ours.Else(9), 1e-12, "C/L %v", p.CostLoss)
			assert.InDelta(t, 0, p.FixedAlarm.Else(9), 1e-12)
		}
	}
}

// By hand: mild weather and one night, of 14 November, straight to 8 °F, which
// takes chard (common practice, no source). Two mornings are forecast each day.
// The issue of the 13th misses it, the one of the 14th sees it; the 16th of
// November is called cold and is not.
func TestTheTableOfOneKillingNight(t *testing.T) {
	var days []weatherfile.Day
	for d := farm.Day("2023-08-01"); d < "2023-12-01"; d = d.Add(1) {
		low := unit.Celsius(9)
		if d == "2023-11-15" {
			low = -13.3
		}
		days = append(days, weatherfile.Day{Date: d, Min: unit.Some(low), Max: unit.Some(low + 8)})
	}
	low := func(issued, morning farm.Day, c unit.Celsius) weatherfile.Low {
		return weatherfile.Low{Station: "here", IssuedOn: issued, Morning: morning, Low: c}
	}
	lows := []weatherfile.Low{
		low("2023-11-10", "2023-11-11", 9), low("2023-11-10", "2023-11-12", -13.3), // a false alarm for the second night
		low("2023-11-13", "2023-11-14", 9), low("2023-11-13", "2023-11-15", 9), // a miss, two nights ahead
		low("2023-11-14", "2023-11-15", -13.3), low("2023-11-14", "2023-11-16", 9), // a hit, for the night and the one after
		low("2023-11-15", "2023-11-16", -13.3), // the morning has been: nothing to score
	}
	opt := Options{Site: place, Zone: zone, Crops: named(t, "chard"), Members: exact}
	r, err := Replay([]Station{{Name: "here", Lows: lows, Days: days}}, opt)
	require.NoError(t, err)
	report := scored(t, r)
	assert.Equal(t, skill.Contingency{Hits: 2, Misses: 1, FalseAlarms: 1, CorrectNegatives: 2}, report.Verdicts)
	assert.Equal(t, 4, r.Issues)
	assert.Zero(t, r.Short)
	assert.InDelta(t, 12, report.Lead.Median.Else(0), 6, "from noon of the 14th to some hour of the night")
	require.Len(t, r.Rows, 6)
	last := r.Rows[5]
	assert.Equal(t, farm.Day("2023-11-15"), last.Night)
	assert.Equal(t, 2, last.LeadDays)
	assert.Equal(t, unit.Some(unit.Celsius(-13.3)), last.AirLowForecast, "the lowest low up to the night")
	assert.Equal(t, "here 2023 chard", last.Bed)
	for _, row := range r.Rows {
		assert.Equal(t, row.Acted, row.Lead > 0, "a lead is from a notice: %+v", row)
	}
}

// The decision rule of the cost–loss model acts from p = C/L on (Murphy 1977,
// Mon. Weather Rev. 105:803, from memory): chard for the market has a ratio of
// 0.2, and one course of five, or of six, ends it.
func TestALikelihoodAtTheRatioActs(t *testing.T) {
	require.Equal(t, 0.2, farm.Fresh.CostLoss())
	var days []weatherfile.Day
	for d := farm.Day("2023-08-01"); d < "2023-12-01"; d = d.Add(1) {
		days = append(days, weatherfile.Day{Date: d, Min: unit.Some(unit.Celsius(9)), Max: unit.Some(unit.Celsius(17))})
	}
	lows := []weatherfile.Low{{Station: "here", IssuedOn: "2023-11-14", Morning: "2023-11-15", Low: 7}}
	for courses, acts := range map[int]bool{5: true, 6: false} {
		oneCold := func(hours []weather.Hour, _ time.Time, _ string) []bed.Member {
			out := make([]bed.Member, courses)
			for i := range out {
				out[i] = exact(hours, time.Time{}, "")[0]
			}
			for i := range out[0].Error {
				out[0].Error[i] = -25
			}
			return out
		}
		r, err := Replay([]Station{{Name: "here", Lows: lows, Days: days}}, Options{Site: place, Zone: zone, Crops: named(t, "chard"), Members: oneCold})
		require.NoError(t, err)
		require.Len(t, r.Rows, 1)
		assert.InDelta(t, 1/float64(courses), r.Rows[0].Likelihood, 1e-12)
		assert.Equal(t, acts, r.Rows[0].Acted, "%d courses", courses)
	}
}

func TestAHoleInTheObservationsLeavesOutcomesOpen(t *testing.T) {
	days := wave("2021-08-01", 300, 3)
	opt := Options{Site: place, Zone: zone, Crops: named(t, "spinach"), Members: exact}
	station := Station{Name: "here", Lows: forecasts(days, 2, right), Days: days}
	whole, err := Replay([]Station{station}, opt)
	require.NoError(t, err)
	assert.Zero(t, scored(t, whole).Unknown)
	holed := append([]weatherfile.Day{}, days...)
	holed[40].Min = unit.None[unit.Celsius]()
	station.Days = holed
	r, err := Replay([]Station{station}, opt)
	require.NoError(t, err)
	report := scored(t, r)
	assert.Equal(t, days[38].Date, report.To, "the night before the hole's is the last known")
	assert.Positive(t, report.Unknown)
}

func TestWhatCannotBePlayedIsCounted(t *testing.T) {
	days := wave("2021-09-01", 60, 4)
	opt := Options{Site: place, Zone: zone, Crops: named(t, "chard"), Members: exact}
	early := weatherfile.Low{Station: "here", IssuedOn: "2021-08-10", Morning: "2021-08-11", LeadDays: 1, Low: 3}
	noNext := weatherfile.Low{Station: "here", IssuedOn: "2021-09-20", Morning: "2021-09-23", LeadDays: 3, Low: 3}
	late := weatherfile.Low{Station: "here", IssuedOn: "2021-12-10", Morning: "2021-12-11", LeadDays: 1, Low: 3}
	r, err := Replay([]Station{{Name: "here", Lows: []weatherfile.Low{late, early, noNext}, Days: days}}, opt)
	require.NoError(t, err)
	assert.Equal(t, 3, r.Short)
	assert.Empty(t, r.Rows)
	none, err := Replay([]Station{{Name: "here", Lows: []weatherfile.Low{early}}}, opt)
	require.NoError(t, err)
	assert.Equal(t, 1, none.Short)
	few, err := Replay([]Station{{Name: "here", Lows: forecasts(days[:9], 1, right), Days: days[:9]}}, opt)
	require.NoError(t, err)
	assert.Zero(t, few.Issues, "nobody knows the usual range from nine days")
}

func TestWorkersDoNotChangeTheRows(t *testing.T) {
	days := wave("2020-08-01", 3*365, 5)
	noise := rand.New(rand.NewPCG(7, 7))
	lows := forecasts(days, 3, func(c unit.Celsius, lead int) unit.Celsius {
		return c + unit.Celsius((1.5+0.5*float64(lead))*noise.NormFloat64())
	})
	var all []Result
	for _, workers := range []int{1, 2} {
		r, err := Replay([]Station{{Name: "here", Lows: lows[180:270], Days: days}, {Name: "there", Lows: lows[1290:1380], Days: days}},
			Options{Site: place, Zone: zone, Crops: named(t, "lettuce-head", "carrot"), Workers: workers})
		require.NoError(t, err)
		all = append(all, r)
	}
	assert.Equal(t, all[0], all[1])
	assert.NotEmpty(t, all[0].Rows)
}

// What is learned of a station's forecasts is learned from the past alone, and
// a forecast that is right is left as it is.
func TestLearningLooksBackOnly(t *testing.T) {
	days := wave("2020-08-01", 2*365, 8)
	noise := rand.New(rand.NewPCG(3, 3))
	lows := forecasts(days, 2, func(c unit.Celsius, _ int) unit.Celsius { return c + unit.Celsius(4*noise.NormFloat64()) })
	cut := 2 * 90
	opt := Options{Site: place, Zone: zone, Crops: named(t, "lettuce-head"), Members: exact, Learn: true}
	play := func(lows []weatherfile.Low) Result {
		r, err := Replay([]Station{{Name: "here", Lows: lows, Days: days}}, opt)
		require.NoError(t, err)
		return r
	}
	early, all := play(lows[:cut]), play(lows)
	require.NotEmpty(t, early.Rows)
	assert.Equal(t, early.Rows, all.Rows[:len(early.Rows)], "later issues change nothing")
	opt.Learn = false
	assert.NotEqual(t, play(lows).Rows, all.Rows)

	right := forecasts(days, 2, right)
	plain := play(right)
	opt.Learn = true
	assert.Equal(t, plain, play(right))
}

// Where the trial is spared, it would have found nothing.
func TestSafeWeatherIsSafe(t *testing.T) {
	crops := named(t, "lettuce-head", "cauliflower", "chard", "carrot")
	at := time.Date(2023, 9, 20, 0, 0, 0, 0, time.UTC)
	var hours []weather.Hour
	for i := range 96 {
		hours = append(hours, weather.Hour{At: at.Add(time.Duration(i) * time.Hour), Air: unit.Some(safeAir + 0.01), Cloud: unit.Some(0.0), Wind: unit.Some(0.0), DewPoint: unit.Some(unit.Celsius(-15))})
	}
	var beds []*plot
	var plants []bed.Plant
	for _, c := range crops {
		p := bed.Plant{Crop: c}
		plants, beds = append(plants, p), append(beds, &plot{plant: p})
	}
	members := exact(hours, at, "")
	require.True(t, safe(hours, members, beds))
	class := bed.Class{Site: place, Spans: []bed.Span{{}}}
	book := bed.NewBook(&class, plants, at)
	courses, err := bed.Try(&book, &class, plants, make([]unit.Kelvins, len(plants)), hours, members)
	require.NoError(t, err)
	for i := range plants {
		for h := range hours {
			require.Zero(t, courses[i][0].Loss[h], plants[i].Crop.Name)
			require.Positive(t, courses[i][0].Sold[h])
		}
	}
	members[0].Error[50] = -0.02
	assert.False(t, safe(hours, members, beds))
	beds[0].plant.Crop.Chill = unit.Some(crop.Chill{Below: 10, Hours: 20})
	members[0].Error[50] = 0
	assert.False(t, safe(hours, members, beds), "a crop that is chilled is always tried")
}

func TestTheSouthHasItsSeasonInFebruary(t *testing.T) {
	for _, c := range []struct {
		at       string
		latitude float64
		want     farm.Day
	}{
		{"2024-07-31T20:00:00Z", 43, "2023-08-01"}, {"2024-08-01T20:00:00Z", 43, "2024-08-01"}, {"2024-01-05T00:00:00Z", 43, "2023-08-01"},
		{"2024-01-31T12:00:00Z", -43, "2023-02-01"}, {"2024-02-01T12:00:00Z", -43, "2024-02-01"}, {"2024-08-01T12:00:00Z", -43, "2024-02-01"},
	} {
		at, err := time.Parse(time.RFC3339, c.at)
		require.NoError(t, err)
		assert.Equal(t, c.want, seasonStart(at, zone, c.latitude), c.at)
	}
}

// The dressing is the service's: seeded by station and issue, as many members.
func TestDressedAsTheServiceDoes(t *testing.T) {
	at := time.Date(2023, 11, 14, 18, 0, 0, 0, time.UTC)
	hours := []weather.Hour{{At: at, Air: unit.Some(unit.Celsius(3))}, {At: at.Add(time.Hour), Air: unit.Some(unit.Celsius(2))}}
	got := dressed(hours, at, "here@then")
	want, from := verdict.Dress(weather.Forecast{}, hours, at, verdict.DefaultMembers, "here@then")
	assert.Equal(t, want, got)
	assert.Equal(t, verdict.FromDressing, from)
}

func TestListThresholdsAreOfTheAirOrMissing(t *testing.T) {
	cs := named(t, "chard", "carrot")
	assert.InDelta(t, 26, cs[0].ListThreshold().Else(99).Fahrenheit(), 1e-9)
	assert.False(t, cs[1].ListThreshold().Known(), "a list of tissue temperatures is no rule for the air")
}

func ExampleReplay() {
	days := wave("2022-08-01", 200, 6)
	catalogue, _ := crop.Default()
	chard, _ := catalogue.Find("chard")
	r, _ := Replay([]Station{{Name: "here", Lows: forecasts(days, 2, right), Days: days}}, Options{Site: place, Zone: zone, Crops: []crop.Crop{chard}, Members: exact})
	fmt.Println(r.Rows[0].Night, r.Rows[0].Likelihood, r.Rows[0].Lost.Else(1))
	// Output: 2022-08-05 0 0
}
