package crop

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

// small is a whole catalogue of one crop; line numbers count from its first line.
const small = `[sources]
own = "own default"
L = "a list"

[common]
loss_rate = { value = 1, unit = "1/d", mark = "default", source = ["own"], confidence = "low" }
width = { value = 1, unit = "K", mark = "default", source = ["own"], confidence = "low" }

[crop.cress]
aliases = ["garden-cress"]
title = { en = "cress", es = "berro" }
family = "leaf"
organ = "leaf"
evidence = [ { source = "L", mark = "memory", says = "hardy" } ]
listed = [ { value = 20, unit = "°F", basis = "screen_air", mark = "source", source = ["L"], confidence = "low" } ]
[crop.cress.figure]
unhardened = { value = -4, unit = "°C", basis = "screen_air", mark = "default", source = ["own"], confidence = "low" }
cold = { value = -6, unit = "°C", basis = "tissue", mark = "default", source = ["own", "L"], confidence = "low" }
full = { value = 14, unit = "°F", basis = "screen_air", mark = "default", source = ["own"], confidence = "low" }
rate = { value = 0.3, unit = "1/d", mark = "default", source = ["own"], confidence = "low" }
margin = { value = 1, unit = "K", mark = "default", source = ["own"], confidence = "low" }
spread = { value = 2, unit = "K", mark = "default", source = ["own"], confidence = "low" }
height = { value = 10, unit = "cm", mark = "default", source = ["own"], confidence = "low" }
lowest = { value = 1, unit = "cm", mark = "default", source = ["own"], confidence = "low" }
`

func TestLoadGivesTissueTerms(t *testing.T) {
	cat, err := Load("small.toml", []byte(small))
	require.NoError(t, err)
	c, err := cat.Find("cress")
	require.NoError(t, err)
	assert.InDelta(t, -5, float64(c.Sold.Unhardened), 1e-12, "a list's air is lowered 1 K")
	assert.InDelta(t, -6, float64(c.Sold.Cold), 1e-12, "tissue is not")
	assert.InDelta(t, -11, float64(c.Sold.Full), 1e-12, "14 °F is −10 °C of air")
	assert.Equal(t, unit.Kelvins(1), c.Sold.Width, "from [common]")
	assert.Equal(t, 14.0, c.figure("full").Value, "figures stay as they were written")
	assert.Equal(t, "own: own default; L: a list", c.figure("cold").Source)
	assert.Equal(t, []string{"own", "L"}, c.figure("cold").Codes)
	assert.Equal(t, map[string]string{"own": "own default", "L": "a list"}, c.Sources)
}

// A language that one crop is named in, all are: else a page would mix two.
func TestEveryCropIsNamedInTheSameLanguages(t *testing.T) {
	_, entry, _ := strings.Cut(small, "[crop.cress]")
	other := "[crop.dock]" + strings.NewReplacer("crop.cress", "crop.dock", "garden-cress", "garden-dock", `, es = "berro"`, ``).Replace(entry)
	_, err := Load("two.toml", []byte(small+other))
	assert.ErrorContains(t, err, `crop.dock.title: needs what people call it in "es"`)
}

func (c Crop) figure(name string) Figure {
	for _, f := range c.Figures {
		if f.Name == name {
			return f
		}
	}
	return Figure{}
}

// Each change of the small file must be refused, at its line, with what would
// be right.
func TestLoadRefuses(t *testing.T) {
	for _, c := range []struct{ why, old, put, at, says string }{
		{"not TOML", `[crop.cress]`, `[crop.cress`, "small.toml:9:", ""},
		{"unknown table", `[common]`, `[commn]`, "small.toml:5:", `must be one of sources, common, crop`},
		{"unknown key of a crop", `organ =`, `orgn =`, "small.toml:13:", `must be one of aliases, title`},
		{"unknown key of a figure", `confidence = "low" }
spread`, `confidence = "low", colour = 1 }
spread`, "small.toml:21:", `"crop.cress.figure.margin.colour": must be one of value, unit`},
		{"unknown key of evidence", `says =`, `tells =`, "small.toml:14:", `must be one of source, mark, says`},
		{"a caution nobody has a sentence for", `family =`, "cautions = [\"caning\"]\nfamily =", "small.toml:12:", `"caning" is not known: must be one of canning`},
		{"number as text", `rate = { value = 0.3`, `rate = { value = "0.3"`, "small.toml:20:", ""},
		{"twice the same crop", `[crop.cress.figure]`, "[crop.cress]\n[crop.cress.figure]", "small.toml:16:", ""},
		{"unknown figure", `spread =`, `sprad =`, "small.toml:22:", `no such figure: must be one of unhardened, cold`},
		{"missing figure", `spread = {`, `#spread = {`, "small.toml:16:", `figure spread is missing: every crop has one`},
		{"missing common figure", `width = {`, `#width = {`, "small.toml:16:", `figure width is missing: give it here or in [common]`},
		{"not a common figure", `width = {`, `margin = {`, "small.toml:7:", `must be loss_rate or width`},
		{"missing value", `margin = { value = 1, `, `margin = { `, "small.toml:21:", `value is missing`},
		{"missing unit", `value = 1, unit = "K", mark = "default", source = ["own"], confidence = "low" }
spread`, `value = 1, mark = "default", source = ["own"], confidence = "low" }
spread`, "small.toml:21:", `unit is missing: must be one of K`},
		{"wrong unit", `value = 10, unit = "cm"`, `value = 10, unit = "in"`, "small.toml:23:", `"in" is not known: must be one of cm`},
		{"missing source", `source = ["own", "L"]`, `source = []`, "small.toml:18:", `source is missing`},
		{"unknown source", `source = ["own", "L"]`, `source = ["X"]`, "small.toml:18:", `"X" is not in [sources]`},
		{"unknown source of evidence", `evidence = [ { source = "L"`, `evidence = [ { source = "X"`, "small.toml:14:", `"X" is not in [sources]`},
		{"unknown mark", `mark = "default", source = ["own", "L"]`, `mark = "guess", source = ["own", "L"]`, "small.toml:18:", `must be one of source, secondary, memory, default, common practice`},
		{"unknown confidence", `source = ["own", "L"], confidence = "low"`, `source = ["own", "L"], confidence = "sure"`, "small.toml:18:", `must be one of high, medium, low`},
		{"missing basis", `unit = "°C", basis = "tissue",`, `unit = "°C",`, "small.toml:18:", `must be one of screen_air, tissue, soil`},
		{"unknown basis", `basis = "tissue"`, `basis = "air"`, "small.toml:18:", `must be one of screen_air, tissue, soil`},
		{"basis of a length", `value = 10, unit = "cm",`, `value = 10, unit = "cm", basis = "soil",`, "small.toml:23:", `a figure in cm has no basis`},
		{"unknown organ", `organ = "leaf"`, `organ = "petal"`, "small.toml:13:", `must be one of leaf, head, stem`},
		{"unknown family", `family = "leaf"`, `family = "moss"`, "small.toml:12:", `must be one of leaf, herb`},
		{"no English title", `en = "cress", `, ``, "small.toml:11:", `"en"`},
		{"full above cold", `full = { value = 14`, `full = { value = 31`, "small.toml:19:", `above cold -6 °C: must be full ≤ cold ≤ unhardened`},
		{"cold above unhardened", `cold = { value = -6`, `cold = { value = -2`, "small.toml:18:", `is above unhardened`},
		{"hardening above freezing", `unhardened = { value = -4`, `unhardened = { value = 1.5`, "small.toml:17:", `≤ 0 °C in tissue terms`},
		{"does not harden, yet does", `rate = { value = 0.3`, `rate = { value = 0`, "small.toml:20:", `must then be equal`},
		{"implausible", `margin = { value = 1`, `margin = { value = 11`, "small.toml:21:", `outside the plausible range 0 to 5 K`},
		{"°C written as °F", `value = -4, unit = "°C"`, `value = -4, unit = "°F"`, "small.toml:17:", `outside the plausible range -12 to 2 °C`},
		{"not a number", `margin = { value = 1`, `margin = { value = nan`, "small.toml:21:", `outside the plausible range`},
		{"infinite", `margin = { value = 1`, `margin = { value = inf`, "small.toml:21:", `outside the plausible range`},
		{"lowest above height", `lowest = { value = 1,`, `lowest = { value = 11,`, "small.toml:24:", `above the height of 10 cm`},
		{"half a group", `lowest =`, `chill_below = { value = 8, unit = "°C", basis = "tissue", mark = "default", source = ["own"], confidence = "low" }
lowest =`, "small.toml:16:", `figure chill_hours is missing: it goes with chill_below`},
		{"root without its freezing point", `organ = "leaf"`, `organ = "root"`, "small.toml:16:", `figure freezes is missing: a root is judged in the ground`},
		{"alias taken", `["garden-cress"]`, `["cress"]`, "small.toml:10:", `is taken by another crop or alias`},
		{"alias badly written", `["garden-cress"]`, `["Garden Cress"]`, "small.toml:10:", `lower-case letters`},
		{"name badly written", `[crop.cress.figure]`, "[crop.Cress_]\n[crop.cress.figure]", "small.toml:16:", `lower-case letters`},
		{"list figure without source", `source = ["L"], confidence`, `source = [], confidence`, "small.toml:15:", `crop.cress.listed[0]: source is missing`},
		{"evidence that says nothing", `says = "hardy"`, `says = " "`, "small.toml:14:", `says is missing`},
	} {
		t.Run(c.why, func(t *testing.T) {
			require.Equal(t, 1, strings.Count(small, c.old), "the change must hit one place")
			_, err := Load("small.toml", []byte(strings.Replace(small, c.old, c.put, 1)))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.at)
			assert.Contains(t, err.Error(), c.says)
		})
	}
}

func TestLoadTellsEverythingAtOnce(t *testing.T) {
	src := strings.NewReplacer(`organ = "leaf"`, `organ = "petal"`, `margin = { value = 1`, `margin = { value = 9`).Replace(small)
	_, err := Load("small.toml", []byte(src))
	require.Error(t, err)
	assert.Contains(t, err.Error(), "small.toml:13:")
	assert.Contains(t, err.Error(), "small.toml:21:")
}

func TestLoadRefusesAnEmptyFile(t *testing.T) {
	_, err := Load("none.toml", nil)
	assert.ErrorContains(t, err, "none.toml:1: crop: no crops")
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte(small))
	f.Add([]byte("[crop.\"a\\u0041\"]\nlisted = [1, {a = [2]}]"))
	f.Add([]byte("crop = 1"))
	f.Add([]byte("[[crop]]"))
	f.Fuzz(func(t *testing.T, src []byte) {
		cat, err := Load("fuzz.toml", src)
		if err != nil {
			assert.Contains(t, err.Error(), "fuzz.toml")
			return
		}
		for _, c := range cat.All() {
			assert.LessOrEqual(t, c.Sold.Full, c.Sold.Unhardened)
			assert.LessOrEqual(t, c.Sold.Unhardened, unit.Celsius(0))
			assert.Positive(t, c.Sold.Width)
		}
	})
}
