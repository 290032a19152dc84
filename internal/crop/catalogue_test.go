package crop

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/config"
	"winterstand/internal/unit"
)

func catalogue(t testing.TB) Catalogue {
	t.Helper()
	cat, err := Default()
	require.NoError(t, err)
	return cat
}

func TestDefaultHoldsTheTrade(t *testing.T) {
	cat := catalogue(t)
	assert.GreaterOrEqual(t, len(cat.All()), 60)
	for _, name := range []string{
		"kale", "chard", "spinach", "carrot", "parsnip", "beet", "turnip", "rutabaga", "radish", "daikon", "celeriac", "leek",
		"scallion", "onion", "shallot", "garlic", "lettuce", "cabbage", "parsley", "cilantro", "dill", "tomato", "pepper", "potato",
	} {
		_, err := cat.Find(name)
		assert.NoError(t, err)
	}
}

func TestFindForgivesSpelling(t *testing.T) {
	cat := catalogue(t)
	for _, c := range []struct{ asked, want string }{
		{"spinach", "spinach"}, {" Spinach ", "spinach"}, {"KALE", "kale-curly"}, {"kale_curly", "kale-curly"},
		{"Kale  Curly", "kale-curly"}, {"Brussels sprouts", "brussels-sprouts"}, {"leek", "leek-summer"},
		{"carrots", "carrot"}, {"tomatoes", "tomato"}, {"radishes", "radish"}, {"Bunching Onions", "bunching-onion"},
	} {
		got, err := cat.Find(c.asked)
		require.NoError(t, err, c.asked)
		assert.Equal(t, c.want, got.Name)
	}
}

func TestFindNamesTheNearest(t *testing.T) {
	cat := catalogue(t)
	for _, c := range []struct{ asked, near string }{{"spinich", "spinach"}, {"chrad", "chard"}, {"rutabega", "rutabaga"}, {"onions, red", "onion"}, {"long purple carrot of ours", "carrot"}, {"ruta", "rutabaga"}} {
		_, err := cat.Find(c.asked)
		require.ErrorIs(t, err, ErrUnknown)
		assert.ErrorContains(t, err, "did you mean")
		assert.ErrorContains(t, err, c.near)
	}
	_, err := cat.Find("")
	assert.ErrorIs(t, err, ErrUnknown)
}

func BenchmarkLoad(b *testing.B) {
	for range b.N {
		if _, err := Load("crops.toml", config.Crops); err != nil {
			b.Fatal(err)
		}
	}
}

func FuzzFind(f *testing.F) {
	for _, s := range []string{"kale", "Brussels sprouts", "", "-", "ñ_ S", "\xff"} {
		f.Add(s)
	}
	cat := catalogue(f)
	f.Fuzz(func(t *testing.T, name string) {
		c, err := cat.Find(name)
		if err == nil {
			assert.NotEmpty(t, c.Name)
			return
		}
		assert.ErrorIs(t, err, ErrUnknown)
	})
}

// Whiteman 1957, USDA MRR 196 / Agriculture Handbook 66, highest freezing
// points in °F, from secondary copies: an independent list against the file.
func TestFreezingPointsAreWhitemans(t *testing.T) {
	cat := catalogue(t)
	for name, f := range map[string]float64{
		"broccoli": 30.9, "cabbage": 30.4, "carrot": 29.5, "cauliflower": 30.6, "celery": 31.1, "cucumber": 31.1,
		"lettuce-head": 31.7, "onion": 30.6, "pepper": 30.7, "potato": 30.9, "spinach": 31.5, "tomato": 31.0,
		// The rest from memory.
		"beet": 30.3, "brussels-sprouts": 30.5, "celeriac": 30.3, "collards": 30.6, "endive": 31.9, "garlic": 30.5,
		"bunching-onion": 30.4, "kale-curly": 31.1, "kohlrabi": 30.2, "leek-summer": 30.7, "parsley": 30.0, "parsnip": 30.4,
		"radish": 30.7, "rutabaga": 30.0, "sweet-potato": 29.7, "turnip": 30.1, "winter-squash": 30.5,
	} {
		c, err := cat.Find(name)
		require.NoError(t, err)
		fig := c.figure("freezes")
		assert.Equal(t, f, fig.Value, name)
		assert.Equal(t, "°F", fig.Unit)
		if c.Organ == Root || c.Organ == Bulb {
			at, ok := c.Freezes.Get()
			require.True(t, ok, name)
			assert.InDelta(t, (f-32)/1.8, float64(at), 1e-9)
		}
	}
}

// What holds for every entry.
func TestEveryCropIsWhole(t *testing.T) {
	for _, c := range catalogue(t).All() {
		assert.NotEqual(t, c.Title("en"), "", c.Name)
		assert.NotEqual(t, c.Title("es"), "", c.Name)
		assert.Equal(t, c.Title("en"), c.Title("xx"), "another language falls back to English")
		for _, f := range c.Figures {
			assert.NotEmpty(t, f.Source, "%s %s", c.Name, f.Name)
			assert.False(t, math.IsNaN(f.Value))
		}
		if !c.Organ.AboveGround() {
			assert.True(t, c.Freezes.Known(), c.Name)
			assert.Positive(t, c.ShoulderCm, c.Name)
		}
		if h, ok := c.Regrow.Get(); ok {
			assert.LessOrEqual(t, h.Unhardened, unit.Celsius(0), c.Name)
			assert.Positive(t, h.Width)
		}
		if wide := strings.Contains(c.Conflict, ";"); wide && c.Organ.AboveGround() && c.Sold.Rate > 0 {
			assert.GreaterOrEqual(t, c.Spread, unit.Kelvins(1.5), "%s: the lists disagree", c.Name)
		}
	}
}

// The model's ends must stand near what the lists say for a soft and for a
// hardened crop, or the entry must say why not.
func TestModelStandsNearTheLists(t *testing.T) {
	for _, c := range catalogue(t).All() {
		soft, haveSoft := c.Lists.KillUnhardened.Get()
		hard, haveHard := c.Lists.KillHardened.Get()
		if !c.Organ.AboveGround() || !haveSoft || !haveHard || c.Remark != "" {
			continue
		}
		assert.InDelta(t, float64(soft), float64(c.Sold.Unhardened.Plus(ListDepression)), 2, "%s soft", c.Name)
		assert.InDelta(t, float64(hard), float64(c.Sold.Full.Plus(ListDepression)), 2, "%s hard", c.Name)
	}
}

// The loss of a root reaches one fifth at its highest freezing point: its
// quality curve is centred ln 4 widths below.
func TestRootsFailAtTheirFreezingPoint(t *testing.T) {
	cat := catalogue(t)
	for _, name := range []string{"carrot", "beet", "turnip", "rutabaga", "radish", "daikon", "celeriac", "potato", "sweet-potato"} {
		c, err := cat.Find(name)
		require.NoError(t, err)
		at, _ := c.Freezes.Get()
		half := c.Sold.Unhardened.Plus(c.Margin)
		loss := 1 / (1 + math.Exp(float64(at-half)/float64(c.Sold.Width)))
		assert.InDelta(t, 0.2, loss, 0.06, name)
	}
}

func TestTableFitsEightyColumns(t *testing.T) {
	cat := catalogue(t)
	for _, s := range []unit.System{unit.US, unit.Metric} {
		var b bytes.Buffer
		require.NoError(t, Table(&b, s, cat.All()))
		for _, c := range cat.All() {
			require.NoError(t, Detail(&b, s, "es", c))
			assert.Contains(t, b.String(), "\n"+c.Name)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), Columns, line)
			assert.Equal(t, strings.TrimRight(line, " "), line)
		}
	}
}

func TestDetailShowsEveryFigureAndSource(t *testing.T) {
	c, err := catalogue(t).Find("chard")
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Detail(&b, unit.US, "es", c))
	assert.Contains(t, b.String(), "acelga")
	for _, f := range c.Figures {
		assert.Contains(t, b.String(), f.Name)
	}
	for code := range c.Sources {
		assert.Contains(t, b.String(), "\n  "+code+": ")
	}
	assert.Contains(t, b.String(), " / 8 °F, tissue", "hard end in the reader's units")
}

func TestViewIsJSONWithUnitsInItsNames(t *testing.T) {
	c, err := catalogue(t).Find("sweet-potato")
	require.NoError(t, err)
	b, err := json.Marshal(c.View())
	require.NoError(t, err)
	var m map[string]any
	require.NoError(t, json.Unmarshal(b, &m))
	assert.Equal(t, "sweet-potato", m["name"])
	assert.InDelta(t, -1.278, m["freezes_c"], 1e-3)
	assert.Equal(t, 10.0, m["chill"].(map[string]any)["below_c"])
	assert.NotContains(t, m, "regrow")
	assert.NotContains(t, m, "crown_depth_cm")
	assert.InDelta(t, 10, m["lists"].(map[string]any)["start_c"], 1e-9)

	spinach, err := catalogue(t).Find("spinach")
	require.NoError(t, err)
	v := spinach.View()
	require.NotNil(t, v.Regrow)
	assert.Equal(t, -18.0, v.Regrow.FullC)
	assert.Nil(t, v.FreezesC)
}

// Lines after the first are set in, and no line is wider than the table.
func TestLongTextsAreSetIn(t *testing.T) {
	words := strings.Repeat("nine char ", 12) // 120 characters
	assert.Equal(t, "  L: "+strings.Repeat("nine char ", 7)+"nine\n    "+strings.TrimSpace("char "+strings.Repeat("nine char ", 4))+"\n", wrap("  L: "+words, 4))
	assert.Equal(t, strings.Repeat("x", 79)+"\n20 °F\n", wrap(strings.Repeat("x", 79)+" 20 °F", 0), "a number stays with its degrees")
	assert.Equal(t, strings.Repeat("x", 90)+"\n", wrap(strings.Repeat("x", 90), 0), "a long word is not broken")
	assert.Equal(t, strings.Repeat("x", 80)+"\n", wrap(strings.Repeat("x", 80), 2))
	assert.Equal(t, strings.Repeat("x", 78)+" y\n", wrap(strings.Repeat("x", 78)+" y", 2), "eighty is not too wide")

	c := Crop{Name: "cress", Family: "leaf", Organ: Leaf, Aliases: []string{"a", "b"}, Remark: "r", Conflict: "k", Review: true, Sources: map[string]string{"L": "a list", "B": "a book"},
		Figures: []Figure{{Name: "cold", Value: -6.5, Unit: "°C", Basis: Tissue, Mark: "memory", Confidence: "low", Codes: []string{"L"}, Note: strings.Repeat("note ", 20)},
			{Name: "full", Value: -14, Unit: "°C", Basis: Tissue, Mark: "memory", Confidence: "low", Codes: []string{"L", strings.Repeat("B", 30)}}},
		Evidence: []Evidence{{Source: "L", Mark: "memory", Says: "hardy"}}}
	var b bytes.Buffer
	require.NoError(t, Detail(&b, unit.Metric, "en", c))
	lines := strings.Split(b.String(), "\n")
	for _, want := range []string{"also: a, b", "remark: r", "lists disagree: k", "review: rests on one list from memory; have somebody look at it",
		"cold                 -6.5 °C  tissue     memory          low     L", "    " + strings.TrimSpace(strings.Repeat("note ", 15)), "    " + strings.TrimSpace(strings.Repeat("note ", 5)),
		"full                  -14 °C  tissue     memory          low", "    L, " + strings.Repeat("B", 30), "what sources say without a number", "  L (memory): hardy", "  B: a book", "  L: a list"} {
		assert.Contains(t, lines, want)
	}
	assert.Less(t, strings.Index(b.String(), "  B: a book"), strings.Index(b.String(), "  L: a list"))
}
