package picture

import (
	"encoding/xml"
	"fmt"
	"hash/fnv"
	"math"
	"strconv"
	"strings"
)

// SVG draws the bed as one <svg> element, 360 wide and scalable, with a title and
// a description; it holds no script, no style and no reference to anything outside.
func SVG(b Bed) string {
	b = b.tidy()
	var body svg
	height := draw(&body, b)
	id := identity(b)
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 360 %[1]s" width="360" height="%[1]s" role="img" aria-labelledby="%[2]st %[2]sd" font-family="Arial, 'Liberation Sans', sans-serif"><title id="%[2]st">%[3]s</title><desc id="%[2]sd">%[4]s</desc><rect width="360" height="%[1]s" fill="#ffffff"/>%[5]s</svg>`,
		px(height), id, escaped(b.Title), escaped(b.description()), body.String())
}

// identity makes ids that differ between the pictures of one page.
func identity(b Bed) string {
	h := fnv.New32a()
	fmt.Fprint(h, b.Title, b.Headline, b.Now.Unix()) // never fails: hash.Hash
	return fmt.Sprintf("p%08x", h.Sum32())
}

// svg is a canvas that writes elements.
type svg struct{ strings.Builder }

func (s *svg) fill(ink string, polygons ...[]pt) {
	if d := path(polygons, "z"); d != "" {
		fmt.Fprintf(s, `<path fill="%s" d="%s"/>`, ink, d)
	}
}

func (s *svg) line(p pen, lines ...[]pt) {
	d := path(lines, "")
	if d == "" {
		return
	}
	fmt.Fprintf(s, `<path fill="none" stroke="%s" stroke-width="%s"`, p.ink, px(p.width))
	if p.dash != nil {
		dashes := make([]string, len(p.dash))
		for i, d := range p.dash {
			dashes[i] = px(d)
		}
		fmt.Fprintf(s, ` stroke-dasharray="%s"`, strings.Join(dashes, " "))
	}
	fmt.Fprintf(s, ` d="%s"/>`, d)
}

func (s *svg) text(f lettering, at pt, words string) {
	fmt.Fprintf(s, `<text x="%s" y="%s" font-size="%s" fill="%s"`, px(at.x), px(at.y), px(f.size), f.ink)
	if f.bold {
		s.WriteString(` font-weight="bold"`)
	}
	if f.at != start {
		s.WriteString(` text-anchor="` + map[anchor]string{middle: "middle", end: "end"}[f.at] + `"`)
	}
	s.WriteString(">" + escaped(words) + "</text>")
}

// invisible is how far a line may be moved without being seen, pixels.
const invisible = 0.15

// path is path data: of each line the first point, then steps, which take fewer
// characters than points. Steps are between rounded points, so nothing drifts.
func path(lines [][]pt, ending string) string {
	var b strings.Builder
	for _, line := range lines {
		x, y := 0, 0
		for i, p := range simpler(line, invisible) {
			nx, ny := tenths(p.x), tenths(p.y)
			next := step(nx-x, ny-y)
			switch {
			case i == 0:
				b.WriteByte('M')
			case i == 1:
				b.WriteByte('l')
			case next[0] != '-':
				b.WriteByte(' ')
			}
			b.WriteString(next)
			x, y = nx, ny
		}
		if len(line) > 0 {
			b.WriteString(ending)
		}
	}
	return b.String()
}

func tenths(v float64) int { return int(math.Round(v * 10)) }

// step is two numbers; a minus sign parts them as well as a space does.
func step(dx, dy int) string {
	if dy < 0 {
		return short(dx) + short(dy)
	}
	return short(dx) + " " + short(dy)
}

// short writes tenths without what a reader of path data does not need.
func short(v int) string {
	s := px(float64(v) / 10)
	if strings.HasPrefix(s, "0.") {
		return s[1:]
	}
	if strings.HasPrefix(s, "-0.") {
		return "-" + s[2:]
	}
	return s
}

// px is a length to a tenth of a pixel.
func px(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	return strings.TrimSuffix(s, ".0")
}

func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder takes everything
	return b.String()
}
