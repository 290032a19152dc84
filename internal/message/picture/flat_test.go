package picture

import (
	"image/color"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// sheet is a canvas that keeps every point.
type sheet struct {
	fills map[string][][]pt
	lines []stroke
	texts map[string]pt
}

type stroke struct {
	pen
	lines [][]pt
}

func (s *sheet) fill(ink string, polygons ...[]pt) { s.fills[ink] = append(s.fills[ink], polygons...) }
func (s *sheet) line(p pen, lines ...[]pt)         { s.lines = append(s.lines, stroke{p, lines}) }
func (s *sheet) text(_ lettering, at pt, words string) {
	if _, there := s.texts[words]; !there {
		s.texts[words] = at
	}
}

func (s *sheet) drawnWith(p pen) (lines [][]pt) {
	for _, x := range s.lines {
		if x.ink == p.ink && x.width == p.width && len(x.dash) == len(p.dash) {
			lines = append(lines, x.lines...)
		}
	}
	return lines
}

// flat is ten days that are all alike, by clocks that show UTC: air of -8, -4 and
// 0 °C, tissue of -9 and -5 °C, a floor at -7 °C, night from 18 to 6 h.
func flat() Bed {
	from := time.Date(2026, 11, 10, 0, 0, 0, 0, time.UTC)
	b := Bed{Title: "T", Headline: "H", Zone: time.UTC, Units: unit.Metric, Now: from.Add(12 * time.Hour), Phrases: PhrasesFor(phrase.English(), crop.Leaf),
		Deadline: unit.Some(from.Add(120 * time.Hour))}
	for i := range 240 {
		at := from.Add(time.Duration(i) * time.Hour)
		b.Hours = append(b.Hours, Hour{At: at, AirP10: some(-8), AirP50: some(-4), AirP90: some(0), TissueP10: some(-9), TissueP50: some(-5), TissueP90: some(-4),
			Tolerance: some(-7), SnowCm: unit.Some(0.0), Night: at.Hour() < 6 || at.Hour() >= 18})
	}
	return b
}

func drawn(t *testing.T, b Bed) *sheet {
	t.Helper()
	s := &sheet{fills: map[string][][]pt{}, texts: map[string]pt{}}
	draw(s, b.tidy())
	return s
}

func near(t *testing.T, want []pt, got []pt, what string) {
	t.Helper()
	require.Len(t, got, len(want), what)
	for i := range want {
		assert.InDelta(t, want[i].x, got[i].x, 0.01, "%s: x of point %d", what, i)
		assert.InDelta(t, want[i].y, got[i].y, 0.01, "%s: y of point %d", what, i)
	}
}

// The plot is 316 px for 240 h from x = 38, and 150 px from y = 216 up. It reaches
// to 2 °C above and, with 16 % of room for a label, to -9 - 0.16 × 11 = -10.76 °C
// below: -7 °C lies 150 × 3.76 / 12.76 = 44.20 px above its foot.
func TestEveryLineOfAFlatPictureIsWhereItBelongs(t *testing.T) {
	s := drawn(t, flat())
	const perHour, floor = 316.0 / 240, 216 - 150*3.76/12.76
	strokes := s.drawnWith(pen{ink: brick, width: 0.9})
	require.Len(t, strokes, 47+3, "one in five hours from the fifth on, and three in the legend")
	near(t, []pt{{38 + 5*perHour, floor}, {34 + 5*perHour, floor + 5}}, strokes[0], "the first stroke hangs to the left")
	near(t, []pt{{38 + 10*perHour, floor}, {34 + 10*perHour, floor + 5}}, strokes[1], "the next")
	line := s.drawnWith(pen{ink: brick, width: 2})
	require.NotEmpty(t, line)
	near(t, []pt{{38, floor}, {38 + 239*perHour, floor}}, []pt{line[0][0], line[0][239]}, "the floor")

	coldest, middle := 216-150*1.76/12.76, 216-150*5.76/12.76
	near(t, []pt{{38, middle}, {38 + 239*perHour, middle}}, []pt{s.drawnWith(pen{ink: leafy, width: 2.2})[0][0], s.drawnWith(pen{ink: leafy, width: 2.2})[0][239]}, "the tissue")
	require.NotEmpty(t, s.fills[blush])
	area := s.fills[blush][0]
	near(t, []pt{{38, floor}, {38, coldest}}, []pt{area[0], area[len(area)-1]}, "what falls through the floor")
	edge := s.drawnWith(pen{ink: brick, width: 0.7})[0]
	assert.Equal(t, edge[0], edge[len(edge)-1], "its edge is closed")
	band := s.fills[sky][0]
	near(t, []pt{{38, 216 - 150*10.76/12.76}, {38, 216 - 150*2.76/12.76}}, []pt{band[0], band[len(band)-1]}, "the band of the air")

	for words, y := range map[string]float64{"−10": 216 - 150*0.76/12.76, "−5": 216 - 150*5.76/12.76} {
		near(t, []pt{{34, y + 4}}, []pt{s.texts[words]}, words)
	}
	near(t, []pt{{35, 216 - 150*10.76/12.76 + 4}}, []pt{s.texts["0 °C"]}, "freezing")
	near(t, []pt{{38, 216 - 150*5.76/12.76}, {354, 216 - 150*5.76/12.76}}, s.drawnWith(pen{ink: pale, width: 0.6})[1], "the line of -5 °C")

	require.Len(t, s.fills[dusk], 11, "the first night has begun, the last goes on")
	near(t, box(38+18*perHour, 66, 12*perHour, 150), s.fills[dusk][1], "the second night, 18 to 6 h")
}

// The deadline is five days in: 38 + 158 px. Now is 12 h in: 38 + 15.8 px.
func TestTheDeadlineAndNowAreVerticalLines(t *testing.T) {
	s := drawn(t, flat())
	near(t, []pt{{196, 60}, {196, 216}}, s.drawnWith(pen{ink: black, width: 2})[0], "the deadline, from its flag down")
	near(t, []pt{{53.8, 66}, {53.8, 216}}, s.drawnWith(pen{ink: grey, width: 1, dash: []float64{2, 2}})[0], "now")
	near(t, []pt{{56.8, 77}}, []pt{s.texts["now"]}, "now")
	flag := s.fills[black][0]
	near(t, []pt{{194, 44}, {194, 62}}, []pt{flag[0], flag[3]}, "the flag")
	words := s.texts["Sun 15, 00:00"]
	assert.InDelta(t, 194+(textWidth("Sun 15, 00:00", 12, true)+12)/2, words.x, 0.01)
	assert.InDelta(t, 57.2, words.y, 0.01)

	b := flat()
	b.Deadline, b.Now = unit.Some(b.Hours[0].At.Add(-time.Hour)), b.Hours[0].At
	s = drawn(t, b)
	near(t, []pt{{38, 60}, {38, 216}}, s.drawnWith(pen{ink: black, width: 2})[0], "one that has passed stands at the edge")
	assert.NotContains(t, s.texts, "now", "the picture begins now")
}

// A square, a line and a letter on the canvas of the PNG, of 40 by 40 pixels.
func TestThePNGsCanvasDrawsWhatItIsTold(t *testing.T) {
	c := vgimg.NewWith(vgimg.UseWH(vg.Points(40), vg.Points(40)), vgimg.UseDPI(72))
	r := &raster{c: c, height: 40}
	at := func(x, y int) color.Color { return color.RGBAModel.Convert(c.Image().At(x, y)) }
	r.fill(brick, box(10, 4, 8, 6))
	assert.Equal(t, colour(brick), at(14, 7), "y grows downwards")
	for _, p := range [][2]int{{14, 2}, {14, 12}, {8, 7}, {20, 7}, {14, 33}} {
		assert.Equal(t, colour(white), at(p[0], p[1]), "%v lies outside", p)
	}
	r.line(pen{ink: work, width: 2, dash: []float64{4, 4}}, []pt{{0, 20}, {40, 20}})
	assert.Equal(t, []color.Color{colour(work), colour(white), colour(work)}, []color.Color{at(2, 20), at(6, 20), at(10, 20)}, "dashes")
	assert.Equal(t, colour(white), at(2, 23), "2 pixels wide")
	r.line(pen{ink: work, width: 2}, []pt{{0, 26}, {40, 26}})
	assert.Equal(t, []color.Color{colour(work), colour(work)}, []color.Color{at(2, 26), at(6, 26)}, "no dash is left over")
}

// Where a word lies by its anchor: from it, around it or before it.
func TestWordsInThePNGLieByTheirAnchor(t *testing.T) {
	inked := func(at anchor) (from, to, top, foot int) {
		c := vgimg.NewWith(vgimg.UseWH(vg.Points(120), vg.Points(40)), vgimg.UseDPI(72))
		(&raster{c: c, height: 40}).text(lettering{ink: black, size: 20, at: at}, pt{60, 30}, "MM")
		from, to, top, foot = 120, -1, 40, -1
		for x := range 120 {
			for y := range 40 {
				if r, _, _, _ := c.Image().At(x, y).RGBA(); r < 0x8000 {
					from, to, top, foot = min(from, x), max(to, x), min(top, y), max(foot, y)
				}
			}
		}
		return from, to, top, foot
	}
	w := textWidth("MM", 20, false)
	for at, begins := range map[anchor]float64{start: 60, middle: 60 - w/2, end: 60 - w} {
		from, to, top, foot := inked(at)
		assert.InDelta(t, begins, from, 3, "anchor %d", at)
		assert.InDelta(t, begins+w, to, 3, "anchor %d", at)
		assert.InDelta(t, 29, foot, 1.5, "it stands on its line")
		assert.InDelta(t, 30-20*0.72, top, 2, "capitals are about 0.72 of the size")
	}
}
