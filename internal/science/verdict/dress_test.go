package verdict_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/outside/forecast/metno"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var issued = time.Date(2025, 11, 14, 6, 0, 0, 0, time.UTC)

// flat is a layer of hourly values.
func flat(n int, value float64) []weather.Interval {
	out := make([]weather.Interval, n)
	for i := range out {
		at := issued.Add(time.Duration(i) * time.Hour)
		out[i] = weather.Interval{Start: at, End: at.Add(time.Hour), Value: unit.Some(value)}
	}
	return out
}

func forecastOf(air float64, n int) weather.Forecast {
	return weather.Forecast{Issued: issued, Layers: map[weather.Quantity][]weather.Interval{weather.Air: flat(n, air)}}
}

func dress(f weather.Forecast, hours, members int) ([]bed.Member, string) {
	return verdict.Dress(f, weather.Hours(f, issued, issued.Add(time.Duration(hours)*time.Hour)), issued, members, "seed")
}

// spreadAt is the deviation of the members' error at an hour.
func spreadAt(members []bed.Member, h int) float64 {
	var xs []float64
	for _, m := range members {
		xs = append(xs, float64(m.Error[h]))
	}
	_, deviation := moments(xs)
	return deviation
}

const crowd = 2001

func TestAPlainForecastGetsItsUsualError(t *testing.T) {
	members, from := dress(forecastOf(-3, 240), 240, crowd)
	assert.Equal(t, verdict.FromDressing, from)
	for h := 0; h < 240; h += 13 {
		want := float64(verdict.SigmaAt(float64(h)))
		assert.InDelta(t, want, spreadAt(members, h), 0.05*want, "%d h", h)
	}
	again, _ := dress(forecastOf(-3, 240), 240, crowd)
	assert.Equal(t, members, again, "the same bits")
}

func TestPercentilesRuleWhereTheyAre(t *testing.T) {
	f := forecastOf(-3, 96)
	f.Layers[weather.AirP10], f.Layers[weather.AirP90] = flat(48, -5), flat(48, -1)
	f.Layers[weather.AirP10][7].Value, f.Layers[weather.AirP90][7].Value = unit.Some(-2.0), unit.Some(-4.0)
	f.Layers[weather.AirP10][9].Value = unit.None[float64]()
	f.Layers[weather.AirP10][11].Value, f.Layers[weather.AirP90][11].Value = unit.Some(-3.0), unit.Some(-3.0)
	members, from := dress(f, 96, crowd)
	assert.Equal(t, verdict.FromPercentiles, from)
	stated := 4 / (2 * 1.2815515655) * 1.25 // K; the 90th percentile of the normal distribution
	for h, want := range map[int]float64{
		0: stated, 20: stated, 40: stated,
		7: 2.1, 9: 2.1, // crossed and missing ones: the usual error
		11: 0.5, // nobody is that sure
		60: float64(verdict.SigmaAt(60)), 95: float64(verdict.SigmaAt(95)),
	} {
		assert.InDelta(t, want, spreadAt(members, h), 0.04*want+0.005, "%d h", h)
	}
	f.Layers[weather.AirP90] = nil
	_, from = dress(f, 96, 11)
	assert.Equal(t, verdict.FromDressing, from, "one percentile is none")
}

// ensemble gives a forecast members whose air departs by a spread, ±.
func ensemble(f weather.Forecast, n, hours int, air, spread float64) weather.Forecast {
	for i := range n {
		z := float64(2*i-(n-1)) / float64(n-1) * math.Sqrt(3) // evenly over ±√3: unit variance, nearly
		f.Members = append(f.Members, weather.Member{Air: flat(hours, air+z*spread)})
	}
	return f
}

func TestEnsemblesAreInflatedToAFloor(t *testing.T) {
	for _, c := range []struct{ spread, want float64 }{
		{0.2, 0.8 * 2.1},          // narrow: brought to 0.8 of the usual error
		{1, 0.8 * 2.1},            // still narrower than that
		{4, math.Sqrt(16 + 0.25)}, // wide: its own, and half a kelvin
	} {
		members, from := dress(ensemble(forecastOf(-3, 48), 31, 48, -3, c.spread), 48, crowd)
		assert.Equal(t, verdict.FromEnsemble, from)
		assert.InDelta(t, c.want, spreadAt(members, 6), 0.07*c.want, "members ±%v K", c.spread)
	}
}

// However an ensemble looks, its dressed spread is no narrower than 0.8 of the
// usual error, and keeps each member's own departure.
func TestPropertyAnEnsembleIsNeverTooSure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := forecastOf(0, 72)
		n := rapid.IntRange(2, 40).Draw(t, "members")
		for range n {
			f.Members = append(f.Members, weather.Member{Air: flat(72, rapid.Float64Range(-6, 6).Draw(t, "air"))})
		}
		members, from := dress(f, 72, 400)
		require.Equal(t, verdict.FromEnsemble, from)
		for _, h := range []int{3, 30, 70} {
			require.Greater(t, spreadAt(members, h), 0.8*0.85*float64(verdict.SigmaAt(float64(h))), "%d h", h)
		}
	})
}

func TestHoursThatAMemberLacksKeepTheDressedError(t *testing.T) {
	f := ensemble(forecastOf(-3, 96), 5, 48, -3, 1)
	f.Members[2].Air = f.Members[2].Air[:10]
	plain, _ := dress(forecastOf(-3, 96), 96, 10)
	members, _ := dress(f, 96, 10)
	assert.Equal(t, plain[2].Error[20], members[2].Error[20])
	assert.Equal(t, plain[7].Error[20], members[7].Error[20], "members come round again")
	assert.NotEqual(t, plain[3].Error[20], members[3].Error[20])
	assert.Equal(t, plain[0].Error[70], members[0].Error[70], "beyond all of them")
	for _, m := range members {
		for h, e := range m.Error {
			assert.False(t, math.IsNaN(float64(e)), "%d h", h)
		}
	}
	f.Members = f.Members[:1]
	alone, from := dress(f, 96, 10)
	assert.Equal(t, verdict.FromDressing, from, "one course is no ensemble")
	assert.Equal(t, plain, alone)
}

func TestMembersDepartFromWhereTheForecastIs(t *testing.T) {
	f := ensemble(forecastOf(-3, 48), 2, 48, -9, 0)
	members, _ := dress(f, 48, crowd)
	sum := 0.0
	for _, m := range members {
		sum += float64(m.Error[20]) / crowd
	}
	assert.InDelta(t, -6, sum, 0.02, "an ensemble that is colder than the forecast is believed")
}

func TestNothingToDress(t *testing.T) {
	members, from := verdict.Dress(weather.Forecast{}, nil, issued, 51, "seed")
	assert.Empty(t, members)
	assert.Equal(t, verdict.FromDressing, from)
}

// corpus is the folder of real documents.
func corpus(t *testing.T, path string) []byte {
	root := os.Getenv("WINTERSTAND_CORPUS")
	if root == "" {
		t.Skip("WINTERSTAND_CORPUS is not set: the folder with real forecast documents")
	}
	body, err := os.ReadFile(filepath.Join(root, path))
	require.NoError(t, err)
	return body
}

// A real document of MET Norway with percentiles: σ is their width over
// 2·1.2816, inflated by 1.25, hour by hour, with the numbers read by hand.
func TestMETNorwaysPercentiles(t *testing.T) {
	body := corpus(t, "forecasts/metno/complete_60N_10E_20240224T143428Z_6steps.json")
	f, err := metno.Parse(body)
	require.NoError(t, err)
	var doc struct {
		Properties struct {
			Timeseries []struct {
				Time time.Time
				Data struct {
					Instant struct{ Details map[string]float64 }
				}
			}
		}
	}
	require.NoError(t, json.Unmarshal(body, &doc))
	steps := doc.Properties.Timeseries
	hours := weather.Hours(f, steps[0].Time, steps[0].Time.Add(6*time.Hour))
	members, from := verdict.Dress(f, hours, steps[0].Time, crowd, "metno")
	assert.Equal(t, verdict.FromPercentiles, from)
	for h, s := range steps {
		d := s.Data.Instant.Details
		width := d["air_temperature_percentile_90"] - d["air_temperature_percentile_10"]
		require.Positive(t, width, "the document has percentiles at %s", s.Time)
		want := max(0.5, width/2.5631*1.25)
		assert.InDelta(t, want, spreadAt(members, h), 0.05*want, "%s: p10 to p90 %.2f K", s.Time, width)
	}
}
