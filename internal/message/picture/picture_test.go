package picture

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// recorder is a canvas that remembers.
type recorder struct {
	fills map[string]int
	lines map[pen2]int
	texts []string
	spots []pt
	how   []lettering
}

// at is where a text was written first.
func (r *recorder) at(text string) pt {
	if i := slices.Index(r.texts, text); i >= 0 {
		return r.spots[i]
	}
	return pt{math.NaN(), math.NaN()}
}

type pen2 struct {
	ink    string
	dashed bool
}

func (r *recorder) fill(ink string, polygons ...[]pt) { r.fills[ink] += len(polygons) }
func (r *recorder) line(p pen, lines ...[]pt)         { r.lines[pen2{p.ink, p.dash != nil}] += len(lines) }
func (r *recorder) text(f lettering, at pt, s string) {
	r.texts, r.spots, r.how = append(r.texts, s), append(r.spots, at), append(r.how, f)
}

func record(b Bed) *recorder {
	r := &recorder{fills: map[string]int{}, lines: map[pen2]int{}}
	draw(r, b.tidy())
	return r
}

func some(v float64) unit.Maybe[unit.Celsius] { return unit.Some(unit.Celsius(v)) }

func TestSVGIsWellFormedAndAlone(t *testing.T) {
	b := sampleBed()
	b.Title = `Bed <3> & "kale" ]]></title><script>`
	s := SVG(b)
	d := xml.NewDecoder(strings.NewReader(s))
	var root xml.StartElement
	ids := map[string]bool{}
	texts := map[string]string{}
	name := ""
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch e := token.(type) {
		case xml.StartElement:
			if root.Name.Local == "" {
				root = e.Copy()
			}
			name = e.Name.Local
			assert.Contains(t, []string{"svg", "title", "desc", "rect", "path", "text"}, name)
			for _, a := range e.Attr {
				assert.NotContains(t, []string{"style", "href", "class"}, a.Name.Local, "the page's policy forbids it")
				if a.Name.Local == "id" {
					assert.False(t, ids[a.Value])
					ids[a.Value] = true
				}
			}
		case xml.CharData:
			texts[name] += string(e)
		}
	}
	attributes := map[string]string{}
	for _, a := range root.Attr {
		attributes[a.Name.Local] = a.Value
	}
	assert.Equal(t, "img", attributes["role"])
	for _, id := range strings.Fields(attributes["aria-labelledby"]) {
		assert.True(t, ids[id], id)
	}
	assert.Equal(t, b.Title, texts["title"])
	assert.Contains(t, texts["desc"], "Harvest before Thu 12 Nov 17:00")
	assert.Contains(t, texts["desc"], "Lowest air 7 °F, Fri 13 Nov; what it stands 20 °F")
	other := sampleBed()
	assert.NotEqual(t, identity(b), identity(other), "two pictures on one page")
}

// The bar is 25 kB; hours that jump about are the worst case for the curves.
func TestSVGIsSmall(t *testing.T) {
	assert.Less(t, len(SVG(sampleBed())), 20_000)
	b := sampleBed()
	for i := range b.Hours {
		jump := unit.Kelvins(1.5 * math.Sin(float64(i)*7.3))
		for _, v := range []*unit.Maybe[unit.Celsius]{&b.Hours[i].AirP10, &b.Hours[i].AirP50, &b.Hours[i].AirP90, &b.Hours[i].TissueP10, &b.Hours[i].TissueP50} {
			*v = unit.Some(v.Else(0).Plus(jump))
		}
	}
	assert.Less(t, len(SVG(b)), 25_000)
}

func TestDeadlineIsFlagged(t *testing.T) {
	r := record(sampleBed())
	assert.Contains(t, r.texts, "Thu 12, 17:00")
	assert.Contains(t, r.texts, "10:00–17:00", "the last window names its hours")
	assert.Positive(t, r.lines[pen2{grey, false}], "hollow windows after it")
	assert.Contains(t, r.texts, "When it can be harvested (hollow: too late)")
	b := sampleBed()
	b.Deadline = unit.None[time.Time]()
	r = record(b)
	assert.NotContains(t, strings.Join(r.texts, "|"), "Thu 12, 17:00")
	assert.Contains(t, r.texts, "When it can be harvested")
	for _, off := range []time.Duration{-48 * time.Hour, 20 * 24 * time.Hour} {
		b.Deadline = unit.Some(b.Hours[0].At.Add(off))
		for _, at := range record(b).spots {
			assert.True(t, at.x >= 0 && at.x <= width, "a flag outside the axis stays on the picture")
		}
	}
}

func TestUnitsOfTheReader(t *testing.T) {
	b := sampleBed()
	r := record(b)
	assert.Contains(t, r.texts, "32 °F")
	assert.Contains(t, r.texts, "what it stands 21 °F")
	assert.Contains(t, r.texts, "Night low, air, °F")
	assert.Contains(t, r.texts, "Snow on the bed, in")
	b.Units = unit.Metric
	r = record(b)
	assert.Contains(t, r.texts, "0 °C")
	assert.Contains(t, r.texts, "−14", "a true minus sign")
	assert.Contains(t, r.texts, "Snow on the bed, cm")
}

// Nights are marked by more than colour: black behind white, a frame, or nothing.
func TestNightsAreMarked(t *testing.T) {
	b := sampleBed()
	before := record(b)
	for i := range b.Hours {
		b.Hours[i].Tolerance = some(-60)
	}
	safe := record(b)
	assert.Equal(t, 3, before.fills[black]-safe.fills[black], "three nights fall through the floor")
	assert.Greater(t, before.lines[pen2{black, false}], safe.lines[pen2{black, false}], "one in ten is framed")
	assert.Equal(t, 1, safe.fills[blush], "nothing falls, only the legend is left")
	assert.Equal(t, 1, safe.fills[brick])
}

func TestDaysFollowTheZone(t *testing.T) {
	b := sampleBed()
	r := record(b)
	for _, day := range []string{"11", "12", "13", "14", "15", "16", "17", "18", "19"} {
		assert.Contains(t, r.texts, day)
	}
	assert.InDelta(t, left+(right-left)*20.0/240, r.at("11").x, 1e-9, "noon of the 11th is 20 hours after 16:00 of the 10th")

	// America/Chicago set its clocks back on 1 November 2026 at 02:00 (IANA tzdata).
	from := time.Date(2026, 10, 31, 0, 0, 0, 0, b.Zone)
	for i := range b.Hours {
		b.Hours[i].At = from.Add(time.Duration(i) * time.Hour)
	}
	r = record(b)
	day := (right - left) / 10
	assert.InDelta(t, left+day*36.5/24, r.at("1").x, 1e-9, "the day of 25 hours is drawn 25 hours wide")
	assert.InDelta(t, left+day*61.0/24, r.at("2").x, 1e-9)
}

func TestNoForecastIsSaid(t *testing.T) {
	r := record(Bed{Title: "Bed 3", Headline: "No usable forecast"})
	assert.Contains(t, r.texts, "no forecast")
	assert.NotContains(t, r.texts, "0 °C")
	assert.Contains(t, SVG(Bed{Title: "Bed 3"}), "no forecast.</desc>")

	b := sampleBed()
	b.Hours = append(slices.Clone(b.Hours[:36]), b.Hours[44:130]...)
	r = record(b)
	assert.Contains(t, r.texts, "no forecast", "the uncovered end")
	assert.Contains(t, r.texts, "?", "the hole, the nights and the days it touches")
	rows := b.Table().Rows
	assert.Equal(t, "unknown", rows[1][1], "a low that was not seen is not told")
	assert.NotEqual(t, "unknown", rows[0][1])
}

// A root under snow or soil lives far above the air: the air must not flatten
// what decides.
func TestAxisSuitsTheTissue(t *testing.T) {
	b := sampleBed()
	for i := range b.Hours {
		h := &b.Hours[i]
		h.TissueP10, h.TissueP50, h.Tolerance = some(-3), some(-1), some(-1.5)
		h.AirP10, h.AirP50 = some(-35), some(-30)
	}
	s := b.tidy().scale()
	assert.Greater(t, s.y(b.degrees(-3))-s.y(b.degrees(-1)), 15.0, "two kelvins of the root can be seen")

	for i := range b.Hours {
		h := &b.Hours[i]
		for _, v := range []*unit.Maybe[unit.Celsius]{&h.AirP10, &h.AirP50, &h.AirP90, &h.TissueP10, &h.TissueP50} {
			*v = some(12)
		}
	}
	assert.Greater(t, b.tidy().scale().y(b.degrees(12)), plotTop, "mild nights stay in the picture")
}

func TestNoWindowIsSaid(t *testing.T) {
	b := sampleBed()
	for i := range b.Hours {
		b.Hours[i].Workable = false
	}
	assert.Contains(t, record(b).texts, "no")
}

func TestPassedHoursShowNow(t *testing.T) {
	b := sampleBed()
	assert.NotContains(t, record(b).texts, "now")
	b.Now = b.Hours[30].At
	assert.Contains(t, record(b).texts, "now")
}

// spanish stands for any other language: longer words, other units.
func spanish() Phrases {
	p := PhrasesFor(phrase.English(), crop.Leaf)
	p.Weekdays = [7]string{"dom", "lun", "mar", "mié", "jue", "vie", "sáb"}
	p.NightLow, p.Stands, p.Work = "Mínima nocturna, aire", "lo que aguanta", "Cuándo se puede cosechar"
	return p
}

func TestAnotherLanguage(t *testing.T) {
	b := sampleBed()
	b.Phrases, b.Units = spanish(), unit.Metric
	r := record(b)
	for _, s := range []string{"jue", "Mínima nocturna, aire, °C", "jue 12, 17:00", "lo que aguanta -6.2 °C"} {
		assert.Contains(t, r.texts, s)
	}
}

func TestTextsStayInThePicture(t *testing.T) {
	b := sampleBed()
	b.Headline = strings.Repeat("Harvest before Thursday ", 9)
	b.Phrases = spanish()
	record(b)
	assert.LessOrEqual(t, textWidth(fit(b.Headline, width-12, 16, true), 16, true), width-12)
	assert.True(t, strings.HasSuffix(fit(b.Headline, width-12, 16, true), "…"))
	assert.Equal(t, "short", fit("short", 100, 16, true))
	for _, wide := range []float64{1, 1.03, 1.1} { // a browser's own face may run wider: six per cent stay free
		whole := fit("Harvest before", wide*textWidth("Harvest before", 16, true), 16, true) == "Harvest before"
		assert.Equal(t, wide > 1.06, whole, "%v of its width", wide)
	}
}

func TestPNG(t *testing.T) {
	b := sampleBed()
	for _, scale := range []int{1, 2} {
		raw, err := PNG(b, scale)
		require.NoError(t, err)
		assert.Less(t, len(raw), 60_000)
		img, err := png.Decode(bytes.NewReader(raw))
		require.NoError(t, err)
		assert.Equal(t, 360*scale, img.Bounds().Dx())
		assert.InDelta(t, draw(nowhere{}, b.tidy())*float64(scale), img.Bounds().Dy(), 1)
		at := func(x, y float64) (r, g, b uint32) {
			r, g, b, _ = img.At(int(x*float64(scale)), int(y*float64(scale))).RGBA()
			return r >> 8, g >> 8, b >> 8
		}
		x := b.scale().x(b.Deadline.Else(time.Time{}))
		r, g, bl := at(x, plotFoot-5)
		assert.True(t, r < 90 && g < 90 && bl < 90, "the deadline is a dark line: %d %d %d", r, g, bl)
		r, g, bl = at(1, 1)
		assert.Equal(t, []uint32{255, 255, 255}, []uint32{r, g, bl}, "on white")
	}
	for _, scale := range []int{0, 5, -1} {
		_, err := PNG(b, scale)
		assert.Error(t, err)
	}
}

// Contrast ratios by WCAG 2.2 (relative luminance): 4.5 for text, 3 for what
// must be told apart in grey.
func TestInksInGrey(t *testing.T) {
	for _, ink := range []string{black, grey, leafy, brick, work} {
		for _, ground := range []string{white, dusk} {
			assert.GreaterOrEqual(t, contrast(ink, ground), 4.5, "%s on %s", ink, ground)
		}
	}
	assert.GreaterOrEqual(t, contrast(brick, sky), 4.5, "the floor's label on the band")
	assert.GreaterOrEqual(t, contrast(brick, blush), 3.0)
	assert.GreaterOrEqual(t, contrast(leafy, sky), 3.0)
	assert.GreaterOrEqual(t, contrast(black, sky), 3.0)
	assert.GreaterOrEqual(t, contrast(sky, dusk), 1.4, "the band on a night")
}

func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func luminance(ink string) float64 {
	channel := func(v uint8) float64 {
		c := float64(v) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	c := colour(ink)
	return 0.2126*channel(c.R) + 0.7152*channel(c.G) + 0.0722*channel(c.B)
}

var decimal = regexp.MustCompile(`-?\d*\.?\d+`)

// Whatever comes in, holes, disorder, numbers that are none: the picture is made,
// holds no NaN, and no text leaves it.
func TestAnythingCanBeDrawn(t *testing.T) {
	temperature := rapid.Custom(func(t *rapid.T) unit.Maybe[unit.Celsius] {
		switch rapid.IntRange(0, 9).Draw(t, "kind") {
		case 0:
			return unit.None[unit.Celsius]()
		case 1:
			return some(math.NaN())
		case 2:
			return some(math.Inf(-1))
		}
		return some(rapid.Float64Range(-60, 45).Draw(t, "c"))
	})
	rapid.Check(t, func(t *rapid.T) {
		b := Bed{Title: rapid.String().Draw(t, "title"), Units: rapid.SampledFrom([]unit.System{unit.US, unit.Metric}).Draw(t, "units")}
		from := time.Date(2026, 10, 30, 0, 0, 0, 0, time.UTC)
		for range rapid.IntRange(0, 30).Draw(t, "hours") {
			at := from.Add(time.Duration(rapid.IntRange(0, 300).Draw(t, "at")) * time.Hour)
			b.Hours = append(b.Hours, Hour{At: at, AirP10: temperature.Draw(t, "p10"), AirP50: temperature.Draw(t, "p50"), AirP90: temperature.Draw(t, "p90"),
				TissueP10: temperature.Draw(t, "t10"), TissueP50: temperature.Draw(t, "t50"), Tolerance: temperature.Draw(t, "tolerance"),
				SnowCm: unit.Some(rapid.Float64().Draw(t, "snow")), Workable: rapid.Bool().Draw(t, "workable"), Night: rapid.Bool().Draw(t, "night")})
		}
		s := SVG(b)
		body := s[strings.Index(s, "</desc>"):]
		assert.NotContains(t, strings.ReplaceAll(body, escaped(b.Title), ""), "NaN")
		assert.NoError(t, xml.Unmarshal([]byte(s), new(struct{})))
		for i, at := range record(b).spots {
			assert.True(t, at.x >= 0 && at.x <= width && at.y > 0 && at.y < 500, "text %d at %v", i, at)
		}
		b.Table()
	})
}

func TestPathDataReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var line []pt
		for range rapid.IntRange(1, 20).Draw(t, "n") {
			line = append(line, pt{rapid.Float64Range(0, 360).Draw(t, "x"), rapid.Float64Range(0, 400).Draw(t, "y")})
		}
		kept := simpler(line, invisible)
		d := path([][]pt{line}, "")
		numbers := readNumbers(t, d)
		assert.Len(t, numbers, 2*len(kept), d)
		x, y := 0.0, 0.0
		for i, p := range kept {
			x, y = x+numbers[2*i], y+numbers[2*i+1]
			assert.InDelta(t, p.x, x, 0.0501)
			assert.InDelta(t, p.y, y, 0.0501)
		}
	})
}

// readNumbers takes path data apart as the grammar of SVG 1.1, 8.3.9 does.
func readNumbers(t *rapid.T, d string) []float64 {
	var all []float64
	for _, s := range decimal.FindAllString(d, -1) {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		all = append(all, v)
	}
	return all
}
