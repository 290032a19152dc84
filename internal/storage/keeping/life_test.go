package keeping

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

var harvest = time.Date(2026, 10, 12, 15, 0, 0, 0, time.UTC)

const month = 365.25 / 12 // days

func days(u UseBy) (p10, p50, p90 float64) {
	d := func(t time.Time) float64 { return t.Sub(harvest).Hours() / 24 }
	return d(u.P10), d(u.P50), d(u.P90)
}

func climate(kind string, c, humidity float64) Climate {
	return Climate{Kind: kind, Temperature: unit.Celsius(c), Humidity: unit.Some(humidity)}
}

func useBy(t testing.TB, key, in string, c Climate) UseBy {
	t.Helper()
	k, err := book(t).Keeper(key, "", in)
	require.NoError(t, err)
	u, err := k.UseBy(k.Cured(), harvest, c)
	require.NoError(t, err)
	return u
}

// Store at 39 °F: carrots 3 to 6 months, beets 3 to 5, radishes 1 to 3, dry
// onions 6 to 12 months, shallots about 12 (common practice, no source). Roots
// lie in closed totes or bags in damp air, cured bulbs open in drier air.
func TestLifeAtThirtyNineFahrenheit(t *testing.T) {
	for _, c := range []struct {
		key, in   string
		humidity  []float64
		low, high float64 // months
	}{
		{"carrot", "tote", []float64{0.85, 0.90, 0.95, 0.98}, 3, 6},
		{"carrot", "bag", []float64{0.85, 0.90, 0.95, 0.98}, 3, 6},
		{"beet", "tote", []float64{0.85, 0.90, 0.95, 0.98}, 3, 5},
		{"radish", "tote", []float64{0.85, 0.90, 0.95, 0.98}, 1, 3},
		{"daikon", "bag", []float64{0.85, 0.90, 0.95, 0.98}, 1, 3},
		{"onion", "crate", []float64{0.60, 0.65, 0.70}, 6, 12},
		{"onion", "hung", []float64{0.60, 0.65, 0.70}, 6, 12},
	} {
		for _, h := range c.humidity {
			u := useBy(t, c.key, c.in, climate(farm.ColdStore, float64(unit.FromFahrenheit(39)), h))
			p10, p50, p90 := days(u)
			assert.InDelta(t, c.low, p10/month, 0.15, "%s at %g: p10", c.key, h)
			assert.InDelta(t, c.high, p90/month, 0.15, "%s at %g: p90", c.key, h)
			assert.Less(t, p10, p50)
			assert.Less(t, p50, p90)
		}
	}
}

// Shallots keep about 12 months at 39 °F (common practice, no source).
func TestShallotsKeepAboutAYear(t *testing.T) {
	for _, h := range []float64{0.60, 0.65, 0.70} {
		p10, p50, p90 := days(useBy(t, "shallot", "open", climate(farm.ColdStore, 3.9, h)))
		assert.InDelta(t, 12, p50/month, 0.3, "at %g", h)
		assert.Greater(t, p10/month, 8.0, "in the driest of it the lightest bulbs shrink first")
		assert.Less(t, p90/month, 14.0)
	}
}

// Published lives at 0 °C and near saturation: USDA Agriculture Handbook 66 and
// a northeastern storage table (secondary), rutabaga, potato, celeriac from memory.
func TestPublishedLife(t *testing.T) {
	for _, c := range []struct {
		key       string
		at        float64
		low, high float64 // days
	}{
		{"carrot", 0, 7 * month, 9 * month},
		{"daikon", 0, 2 * month, 4 * month},
		{"cabbage", 0, 3 * month, 6 * month},
		{"parsnip", 0, 2 * month, 6 * month},
		{"turnip", 0, 4 * month, 5 * month},
		{"rutabaga", 0, 2 * month, 6 * month},
		{"leek-summer", 0, 1 * month, 3 * month},
		{"parsley", 0, 1 * month, 2 * month},
		{"kale-curly", 0, 7, 21},
		{"spinach", 0, 10, 14},
		{"winter-squash", 11.5, 2 * month, 6 * month},
		{"potato", 4, 5 * month, 10 * month},
		{"celeriac", 0, 6 * month, 8 * month},
		{"garlic", -0.5, 6 * month, 9 * month},
	} {
		in := "bag"
		if c.key == "winter-squash" || c.key == "garlic" {
			in = "open"
		}
		u := useBy(t, c.key, in, climate(farm.ColdStore, c.at, 0.98))
		p10, _, p90 := days(u)
		assert.InEpsilon(t, c.low, p10, 0.02, "%s p10", c.key)
		assert.InEpsilon(t, c.high, p90, 0.02, "%s p90", c.key)
	}
	_, p50, _ := days(useBy(t, "beet", "bag", climate(farm.ColdStore, 0, 0.98)))
	assert.InEpsilon(t, 4*month, p50, 0.02, "topped beet, 4 months")
}

// Green fruit ripens for about another month; frozen tomatoes keep at least two
// years (common practice, no source).
func TestTomatoes(t *testing.T) {
	_, p50, _ := days(useBy(t, "tomato", "open", climate(farm.Ripening, 15, 0.9)))
	assert.InDelta(t, 30, p50, 1)

	p10, _, _ := days(useBy(t, "tomato", "bag", climate(farm.Freezer, -18, 0.9)))
	assert.GreaterOrEqual(t, p10, 730.0)

	p10, _, _ = days(useBy(t, "carrot", "bag", climate(farm.Freezer, -18, 0.9)))
	assert.InDelta(t, 8*month, p10, 2, "8 to 12 months, NCHFP from memory")
}

// mg CO₂ per kg and hour at 0 °C: USDA Agriculture Handbook 66 (read there).
// 2.97 mW per mg follows from 10.7 J per mg CO₂.
func TestRespiration(t *testing.T) {
	b := book(t)
	for key, mg := range map[string]float64{
		"beet": 5, "carrot": 15, "cabbage": 5, "celery": 15, "garlic": 8, "spinach": 21, "turnip": 8, "broccoli": 21, "brussels-sprouts": 40,
	} {
		e, err := b.Entry(key, "")
		require.NoError(t, err)
		mw, known := e.HeatMilliwatts(0)
		require.True(t, known)
		assert.InDelta(t, 2.97*mg, mw, 1e-9, key)
	}
	carrot, err := b.Entry("carrot", "")
	require.NoError(t, err)
	assert.InDelta(t, 40, carrot.rate(20), 1e-9, "the table falls to 25 at 20 °C; ageing does not")
	assert.InDelta(t, 20, carrot.rate(5), 1e-9)
}

func TestWarmerNeverKeepsLonger(t *testing.T) {
	entries := book(t).Entries()
	rapid.Check(t, func(t *rapid.T) {
		e := rapid.SampledFrom(entries).Draw(t, "crop")
		a := rapid.Float64Range(-0.5, 30).Draw(t, "cooler")
		b := rapid.Float64Range(a, 30).Draw(t, "warmer")
		if e.Chill != nil && a < e.Chill.BelowC {
			return // chilling turns it round: its own test below
		}
		if e.freshLife(b).days > e.freshLife(a).days*(1+1e-9) {
			t.Fatalf("%s keeps longer at %g than at %g", e.Name, b, a)
		}
	})
}

func TestColderThanTheChillingLimitKeepsLess(t *testing.T) {
	entries := book(t).Entries()
	seen := 0
	for _, e := range entries {
		if e.Chill == nil {
			continue
		}
		seen++
		at, below := e.freshLife(e.Chill.BelowC), e.freshLife(e.Chill.BelowC-5)
		assert.InDelta(t, at.days/2, below.days, 1e-9, e.Name)
	}
	assert.Greater(t, seen, 5)
}

func TestMissingHumidityIsAssumedAloud(t *testing.T) {
	u := useBy(t, "carrot", "crate", Climate{Kind: farm.ColdStore, Temperature: 3.9})
	assert.Contains(t, codes(u.Notes), HumidityAssumed)
	same := useBy(t, "carrot", "crate", climate(farm.ColdStore, 3.9, 0.9))
	assert.Equal(t, same.P50, u.P50)
	assert.NotContains(t, codes(same.Notes), HumidityAssumed)
}

func TestNoWaterFigureIsSaid(t *testing.T) {
	assert.Contains(t, codes(useBy(t, "beet", "tote", climate(farm.ColdStore, 3.9, 0.9)).Notes), NoWaterFigure)
	assert.NotContains(t, codes(useBy(t, "carrot", "tote", climate(farm.ColdStore, 3.9, 0.9)).Notes), NoWaterFigure)
}

func codes(notes []Note) []Code {
	var out []Code
	for _, n := range notes {
		out = append(out, n.Code)
	}
	return out
}
