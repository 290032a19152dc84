package keeping

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/config"
	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

func book(t testing.TB) *Book {
	t.Helper()
	b, err := Load("keeping.toml", config.Keeping)
	require.NoError(t, err)
	return b
}

func TestEveryFigureNamesItsSource(t *testing.T) {
	marks := map[crop.Mark]bool{crop.FromSource: true, crop.FromSecondary: true, crop.FromMemory: true, crop.OwnDefault: true, crop.Practice: true}
	for _, e := range book(t).Entries() {
		figures := e.Figures()
		require.NotEmpty(t, figures, e.Name)
		for _, f := range figures {
			assert.True(t, marks[f.Mark], "%s %s: mark %q", e.Name, f.Name, f.Mark)
			assert.NotEmpty(t, f.Source, "%s %s", e.Name, f.Name)
			assert.NotEmpty(t, f.Unit, "%s %s", e.Name, f.Name)
			assert.NotEmpty(t, f.Confidence, "%s %s", e.Name, f.Name)
		}
	}
}

func TestEveryCropOfTheCatalogueHasItsOwnEntry(t *testing.T) {
	catalogue, err := crop.Default()
	require.NoError(t, err)
	b := book(t)
	for _, c := range catalogue.All() {
		e, err := b.Entry(c.Name, c.Family)
		require.NoError(t, err)
		assert.False(t, e.FromFamily, "%s has no entry in config/keeping.toml", c.Name)
		assert.Equal(t, c.Name, e.Name)
	}
}

func TestEntryFallsBackAndSaysSo(t *testing.T) {
	b := book(t)
	shared, err := b.Entry("leek-winter", "allium")
	require.NoError(t, err)
	assert.Equal(t, "leek-winter", shared.Name, "it speaks of the crop that was asked for")
	assert.False(t, shared.FromFamily)

	for _, family := range []string{"leaf", "herb", "allium", "cole", "root", "fruit", "legume"} {
		e, err := b.Entry("something-else", family)
		require.NoError(t, err)
		assert.True(t, e.FromFamily)
		assert.Equal(t, "something-else", e.Name)
	}
	_, err = b.Entry("moss", "")
	assert.ErrorContains(t, err, `"moss"`)
}

func TestLoadNamesLineAndField(t *testing.T) {
	good := string(config.Keeping)
	for _, c := range []struct {
		name, from, to string
		want           []string
	}{
		{"unknown key", "[general]", "[general]\ncolour = 1", []string{"keeping.toml", "colour"}},
		{"no such source", `freezing = { value_c = -1.4, source = "whiteman" }`, `freezing = { value_c = -1.4, source = "hearsay" }`,
			[]string{"keeping.toml:", "carrot", "highest_freezing_point", "hearsay"}},
		{"warm freezing point", "value_c = -1.4", "value_c = 1.4", []string{"carrot", "freezing", "between -5 and 0"}},
		{"a number as text", "kt = 1207", `kt = "1207"`, []string{"line ", "transpiration"}},
		{"life upside down", "low_d = 213, high_d = 274", "low_d = 274, high_d = 213", []string{"carrot", "life"}},
		{"longer when warmer", "low_d = 91, high_d = 183", "low_d = 291, high_d = 383", []string{"carrot", "life"}},
		{"not a number", "low_d = 213", "low_d = nan", []string{"carrot", "life"}},
		{"named twice", `name = "turnip"`, `name = "carrot"`, []string{"carrot", `"carrot" is named twice`}},
		{"bad room", `rooms = ["cellar", "cold_store"]`, `rooms = ["attic"]`, []string{"potato", "rooms"}},
		{"bad q10", "q10 = { value = 2.5", "q10 = { value = -2.5", []string{"[general] q10"}},
		{"bad humidity", "humidity = 0.85", "humidity = 85", []string{"humidity must be between 0 and 1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, good, c.from)
			_, err := Load("keeping.toml", []byte(strings.Replace(good, c.from, c.to, 1)))
			require.Error(t, err)
			for _, w := range c.want {
				assert.ErrorContains(t, err, w)
			}
		})
	}
}

func FuzzLoad(f *testing.F) {
	f.Add("[general]\n")
	f.Add("[[crop]]\nname = \"carrot\"\nlife = [{at_c = nan}]\n")
	f.Add(string(config.Keeping[:4000]))
	f.Fuzz(func(t *testing.T, text string) {
		b, err := Load("x.toml", []byte(text))
		if (b == nil) == (err == nil) {
			t.Fatal("a book or an error, never both or neither")
		}
	})
}

// Highest freezing points in °F: Whiteman 1957, USDA MRR 196. The first group
// from a secondary copy, the second from memory.
func TestFreezingPoints(t *testing.T) {
	b := book(t)
	for key, f := range map[string]float64{
		"broccoli": 30.9, "cabbage": 30.4, "carrot": 29.5, "cauliflower": 30.6, "celery": 31.1, "cucumber": 31.1,
		"lettuce-head": 31.7, "onion": 30.6, "pepper": 30.7, "potato": 30.9, "spinach": 31.5, "tomato": 31.0,

		"beet": 30.3, "brussels-sprouts": 30.5, "celeriac": 30.3, "collards": 30.6, "endive": 31.9, "garlic": 30.5,
		"bunching-onion": 30.4, "kale-curly": 31.1, "kohlrabi": 30.2, "leek-summer": 30.7, "parsley": 30.0, "parsnip": 30.4,
		"radish": 30.7, "rutabaga": 30.0, "sweet-potato": 29.7, "turnip": 30.1, "winter-squash": 30.5,
	} {
		e, err := b.Entry(key, "")
		require.NoError(t, err)
		at, known := e.FreezingPoint()
		require.True(t, known, key)
		// Carrot is quoted as -1.4 °C for 29.5 °F (-1.39).
		assert.InDelta(t, float64(unit.FromFahrenheit(f)), float64(at), 0.02, key)
	}
	e, err := b.Entry("chard", "")
	require.NoError(t, err)
	at, known := e.FreezingPoint()
	assert.False(t, known)
	assert.Zero(t, at, "with none published, 0 °C is the safe side")
}

// Every figure of an entry is held to what it can be, bounds included; the error
// names the field.
func TestEveryFigureIsChecked(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		want   string // "": right
		change func(*Entry)
	}{
		{"", func(*Entry) {}},
		{"air", func(e *Entry) { e.Air = "damp" }},
		{"ethylene", func(e *Entry) { e.Ethylene = "some" }},
		{"rooms", func(e *Entry) { e.Rooms = nil }},
		{"rooms", func(e *Entry) { e.Rooms = []string{"cellar", "attic"} }},
		{"", func(e *Entry) { e.Best.HighC = e.Best.LowC }},
		{"best", func(e *Entry) { e.Best.HighC = e.Best.LowC - 1 }},
		{"best", func(e *Entry) { e.Best.HumidityLow = 0 }},
		{"", func(e *Entry) { e.Best.HumidityLow, e.Best.HumidityHigh = 1, 1 }},
		{"best", func(e *Entry) { e.Best.HumidityHigh = 1.01 }},
		{"best", func(e *Entry) { e.Best.HumidityLow, e.Best.HumidityHigh = 0.9, 0.8 }},
		{"life", func(e *Entry) { e.Life = nil }},
		{"", func(e *Entry) {
			e.Life = []LifeAt{{AtC: 0, LowD: 5, HighD: 5, Source: e.Life[0].Source}, {AtC: 1, LowD: 5, HighD: 5, Source: e.Life[0].Source}}
		}},
		{"life", func(e *Entry) { e.Life = []LifeAt{{AtC: 1, LowD: 5, HighD: 6}, {AtC: 1, LowD: 5, HighD: 6}} }},
		{"life", func(e *Entry) { e.Life = []LifeAt{{AtC: 0, LowD: 0, HighD: 6}} }},
		{"life", func(e *Entry) { e.Life = []LifeAt{{AtC: 0, LowD: 5, HighD: math.Inf(1)}} }},
		{"life", func(e *Entry) { e.Life = []LifeAt{{AtC: nan, LowD: 5, HighD: 6}} }},
		{"", func(e *Entry) {
			e.Respiration = &Respiration{AtC: []float64{0, 1}, Mg: []float64{1, 1}, Source: e.Respiration.Source}
		}},
		{"respiration", func(e *Entry) { e.Respiration = &Respiration{AtC: []float64{0}, Mg: []float64{1}} }},
		{"respiration", func(e *Entry) { e.Respiration = &Respiration{AtC: []float64{0, 1}, Mg: []float64{1}} }},
		{"respiration", func(e *Entry) { e.Respiration = &Respiration{AtC: []float64{0, 1}, Mg: []float64{1, 0}} }},
		{"respiration", func(e *Entry) { e.Respiration = &Respiration{AtC: []float64{1, 1}, Mg: []float64{1, 2}} }},
		{"ripening or freezer", func(e *Entry) { e.Ripening = &LifeAt{LowD: 2, HighD: 1} }},
		{"ripening or freezer", func(e *Entry) { e.Freezer = nil }},
		{"ripening or freezer", func(e *Entry) { e.Freezer = &LifeAt{LowD: 2, HighD: 1} }},
		{"freezing", func(e *Entry) { e.Freezing.ValueC = 0 }},
		{"freezing", func(e *Entry) { e.Freezing.ValueC = -5 }},
		{"transpiration or water_limit", func(e *Entry) { e.Transpiration.Kt = 0 }},
		{"transpiration or water_limit", func(e *Entry) { e.WaterLimit.Percent = 0 }},
		{"cure", func(e *Entry) { e.Cure.Days = 0 }},
		{"", func(e *Entry) { e.Cure.Kt = 0 }},
		{"cure", func(e *Entry) { e.Cure.Kt = -1 }},
	} {
		e, err := Load("keeping.toml", config.Keeping) // anew, for its figures are changed
		require.NoError(t, err)
		onion, err := e.Entry("onion", "")
		require.NoError(t, err)
		c.change(onion)
		err = onion.check()
		if c.want == "" {
			assert.NoError(t, err)
			continue
		}
		assert.ErrorContains(t, err, c.want)
		assert.ErrorContains(t, err, "onion")
	}
}
