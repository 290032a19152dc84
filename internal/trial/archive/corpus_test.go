package archive_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
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
	"winterstand/internal/trial/archive"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// milwaukee are the observed days of GHCN-Daily USW00014839, 1938–2026, and the
// place of that station (station list, from memory).
func milwaukee(t *testing.T, crops ...string) ([]weatherfile.Day, archive.Options) {
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
	catalogue, err := crop.Default()
	require.NoError(t, err)
	opt := archive.Options{
		Site: microclimate.Site{Latitude: 42.955, Longitude: -87.904, ElevationM: 204, Soil: microclimate.Loam},
		Zone: time.FixedZone("UTC-6", -6*3600), Workers: 2, Members: dressedInBrief,
	}
	for _, n := range crops {
		c, err := catalogue.Find(n)
		require.NoError(t, err)
		opt.Crops = append(opt.Crops, c)
	}
	return got.Days, opt
}

// dressedInBrief is the service's dressing with half its members, which are
// stratified: a likelihood is then told to 4 in 100, much finer than the bounds
// and classes that are judged here.
func dressedInBrief(hours []weather.Hour, issued time.Time, seed string) []bed.Member {
	members, _ := verdict.Dress(weather.Forecast{}, hours, issued, verdict.DefaultMembers/2, seed)
	return members
}

// maeF is the mean absolute error of US forecasts of the night minimum, days 1
// to 7, °F (from memory); a normal error's σ is 1.2533 times that.
var maeF = []float64{3.0, 3.3, 3.7, 4.2, 4.8, 5.4, 6.0}

func sigmaK(lead int) float64 { return maeF[lead-1] * math.Sqrt(math.Pi/2) / 1.8 }

// errors are those of one issue, standard normal, correlated 0.7 from morning to morning.
func errors(rng *rand.Rand) []float64 {
	out := make([]float64, len(maeF))
	for i := range out {
		out[i] = rng.NormFloat64()
		if i > 0 {
			out[i] = 0.7*out[i-1] + math.Sqrt(1-0.49)*out[i]
		}
	}
	return out
}

// invented is an archive of issues at 16 h local time: what came, with an error
// on it, in whole degrees Fahrenheit as forecasts are printed.
func invented(days []weatherfile.Day, from, to farm.Day, zone *time.Location) []weatherfile.Low {
	rng := rand.New(rand.NewPCG(7, 2))
	var out []weatherfile.Low
	for i, d := range days {
		if d.Date < from || d.Date >= to {
			continue
		}
		z := errors(rng)
		for lead := 1; lead <= len(z) && i+lead < len(days); lead++ {
			truth, ok := days[i+lead].Min.Get()
			if !ok {
				break
			}
			low := truth.Fahrenheit() + 1.8*sigmaK(lead)*z[lead-1]
			out = append(out, weatherfile.Low{
				Station: "MKE", Issued: unit.Some(d.Date.Start(zone).Add(16 * time.Hour)), IssuedOn: d.Date,
				Morning: days[i+lead].Date, LeadDays: lead, Low: unit.FromFahrenheit(math.Round(low)),
			})
		}
	}
	return out
}

// With an error like that of public forecasts the verdicts must beat an alarm at
// 28 °F and the crops' list thresholds. Truth plus error swings more than the
// weather and is too cold whenever it is cold, which public forecasts mostly are
// not: taken as issued its likelihoods are far too high, and what the station's
// own earlier nights teach puts that right.
func TestInventedForecasts(t *testing.T) {
	days, opt := milwaukee(t, "lettuce-head", "chard", "kale-curly", "spinach", "carrot")
	var lows []weatherfile.Low
	for year := 2018; year < 2022; year++ {
		start := farm.Day(fmt.Sprintf("%d-10-01", year))
		lows = append(lows, invented(days, start, start.Add(100), opt.Zone)...)
	}
	opt.Learn = true
	began := time.Now()
	r, err := archive.Replay([]archive.Station{{Name: "MKE", Lows: lows, Days: days}}, opt)
	require.NoError(t, err)
	report, err := skill.Score(r.Rows, skill.DefaultOptions())
	require.NoError(t, err)
	t.Logf("%d issues, %d rows: %s\n%s", r.Issues, len(r.Rows), time.Since(began).Round(time.Millisecond), report.Text(unit.US))
	for i, e := range r.Errors {
		assert.InDelta(t, sigmaK(i+1), float64(e.RMSE), 0.5, "the generator's own error, day %d", i+1)
	}
	assert.Greater(t, report.Verdicts.HitRate().Else(0), 0.85)
	assert.Greater(t, report.Brier.Skill.Else(-9), 0.2)
	for _, p := range report.Value.Curve {
		if p.CostLoss <= 0.5 {
			assert.Greater(t, p.Ours.Else(-9), p.FixedAlarm.Else(9), "C/L %v", p.CostLoss)
			assert.Greater(t, p.Ours.Else(-9), p.CropList.Else(9), "C/L %v", p.CostLoss)
		}
	}
}

// Where the weather departs from the forecast as the service's dressing says it
// does, likelihoods must come true as often as stated: the observed minima are
// the forecast, and the weather is made of them.
func TestLikelihoodsComeTrue(t *testing.T) {
	days, opt := milwaukee(t, "lettuce-head", "chard", "kale-curly", "carrot")
	usual, rng := weatherfile.RangeOf(days), rand.New(rand.NewPCG(9, 9))
	var stations []archive.Station
	for i, d := range days {
		month, day := d.Date[5:7], d.Date[8:]
		if d.Date < "1980" || i+10 > len(days) || month < "10" || month == "12" && day > "05" || day != "05" && day != "20" {
			continue
		}
		s := archive.Station{Name: string(d.Date), Days: append([]weatherfile.Day{}, days[i-400:i+1]...)}
		for lead, z := range errors(rng) {
			was := days[i+lead+1]
			low, ok := was.Min.Get()
			require.True(t, ok)
			k, _ := usual.On(was.Date)
			came := low.Plus(verdict.SigmaAt(float64(24*lead+14)) * unit.Kelvins(z))
			s.Lows = append(s.Lows, weatherfile.Low{Station: s.Name, Issued: unit.Some(d.Date.Start(opt.Zone).Add(16 * time.Hour)), IssuedOn: d.Date, Morning: was.Date, LeadDays: lead + 1, Low: low})
			s.Days = append(s.Days, weatherfile.Day{Date: was.Date, Min: unit.Some(came), Max: unit.Some(came.Plus(k))})
		}
		after := s.Days[len(s.Days)-1]
		after.Date = after.Date.Add(1)
		s.Days = append(s.Days, after)
		stations = append(stations, s)
	}
	r, err := archive.Replay(stations, opt)
	require.NoError(t, err)
	opts := skill.DefaultOptions()
	opts.Bins = 5
	report, err := skill.Score(r.Rows, opts)
	require.NoError(t, err)
	t.Logf("%d issues\n%s", r.Issues, report.Text(unit.US))
	assert.Greater(t, report.Brier.Skill.Else(-9), 0.4)
	assert.Less(t, report.Brier.Reliability.Else(9), 0.005)
	for _, b := range report.Brier.Table {
		assert.InDelta(t, b.Stated.Else(-9), b.Observed.Else(9), 0.12, "stated %v to %v, %d cases", b.From, b.To, b.Cases)
	}
}
