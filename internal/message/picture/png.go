package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	xdraw "image/draw"
	"image/png"
	"strconv"
	"sync"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// PNG draws the same picture, 360 pixels wide times scale (1 to 4); mail uses 2,
// shown at 360, so that it is sharp on a telephone.
func PNG(b Bed, scale int) ([]byte, error) {
	if scale < 1 || scale > 4 {
		return nil, fmt.Errorf("draw PNG at scale %d: must be 1 to 4", scale)
	}
	b = b.tidy()
	height := draw(nowhere{}, b)
	c := vgimg.NewWith(vgimg.UseWH(vg.Points(width), vg.Points(height)), vgimg.UseDPI(72*scale))
	draw(&raster{c: c, height: height}, b)
	var out bytes.Buffer
	if err := png.Encode(&out, fewColours(c.Image())); err != nil {
		return nil, fmt.Errorf("draw PNG: %w", err)
	}
	return out.Bytes(), nil
}

// nowhere is a canvas for measuring.
type nowhere struct{}

func (nowhere) fill(string, ...[]pt)       {}
func (nowhere) line(pen, ...[]pt)          {}
func (nowhere) text(lettering, pt, string) {}

// raster draws on gonum's canvas, whose y grows upwards.
type raster struct {
	c      *vgimg.Canvas
	height float64
}

func (r *raster) path(lines [][]pt, closed bool) vg.Path {
	var p vg.Path
	for _, line := range lines {
		for i, q := range line {
			at := vg.Point{X: vg.Points(q.x), Y: vg.Points(r.height - q.y)}
			if i == 0 {
				p.Move(at)
			} else {
				p.Line(at)
			}
		}
		if closed && len(line) > 0 {
			p.Close()
		}
	}
	return p
}

func (r *raster) fill(ink string, polygons ...[]pt) {
	r.c.SetColor(colour(ink))
	r.c.Fill(r.path(polygons, true))
}

func (r *raster) line(p pen, lines ...[]pt) {
	r.c.SetColor(colour(p.ink))
	r.c.SetLineWidth(vg.Points(p.width))
	dashes := make([]vg.Length, len(p.dash))
	for i, d := range p.dash {
		dashes[i] = vg.Points(d)
	}
	r.c.SetLineDash(dashes, 0)
	r.c.Stroke(r.path(lines, false))
}

func (r *raster) text(f lettering, at pt, words string) {
	x := at.x
	switch f.at {
	case middle:
		x -= textWidth(words, f.size, f.bold) / 2
	case end:
		x -= textWidth(words, f.size, f.bold)
	}
	r.c.SetColor(colour(f.ink))
	r.c.FillString(faceOf(f.size, f.bold), vg.Point{X: vg.Points(x), Y: vg.Points(r.height - at.y)}, words)
}

// colour reads #rrggbb, as the inks are written.
func colour(ink string) color.RGBA {
	v, err := strconv.ParseUint(ink[1:], 16, 32)
	if err != nil {
		panic("picture: ink " + ink + " is not #rrggbb")
	}
	return color.RGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 255}
}

// inkwell holds every ink and its mixtures with the grounds it is drawn on, which
// are the colours that smoothed edges have.
var inkwell = sync.OnceValue(func() color.Palette {
	inks := []string{white, black, grey, pale, dusk, sky, leafy, brick, blush, work}
	p := color.Palette{}
	for _, ink := range inks {
		p = append(p, colour(ink))
	}
	for g, ground := range []string{white, dusk, sky, blush, brick, black} {
		for i, ink := range inks {
			if ink == ground || i < g {
				continue
			}
			for _, share := range []int{1, 2, 3} {
				p = append(p, mixed(ink, ground, share))
			}
		}
	}
	return p[:min(len(p), 256)]
})

// mixed is ink over ground, in quarters.
func mixed(ink, ground string, quarters int) color.Color {
	a, b := colour(ink), colour(ground)
	mix := func(x, y uint8) uint8 { return uint8((int(x)*quarters + int(y)*(4-quarters)) / 4) }
	return color.RGBA{R: mix(a.R, b.R), G: mix(a.G, b.G), B: mix(a.B, b.B), A: 255}
}

// fewColours brings the picture to the inkwell: a quarter of the bytes in a mail.
// Most pixels have the colour of the one before, and are not looked up again.
func fewColours(from image.Image) *image.Paletted {
	to := image.NewPaletted(from.Bounds(), inkwell())
	plain := image.NewRGBA(to.Rect)
	xdraw.Draw(plain, to.Rect, from, to.Rect.Min, xdraw.Src)
	seen := map[[3]uint8]uint8{}
	var last [3]uint8
	index := uint8(to.Palette.Index(color.RGBA{A: 255}))
	for i := range to.Pix { // both images are without gaps, row by row
		if c := [3]uint8(plain.Pix[4*i:]); c != last {
			known := false
			if index, known = seen[c]; !known {
				index = uint8(to.Palette.Index(color.RGBA{R: c[0], G: c[1], B: c[2], A: 255}))
				seen[c] = index
			}
			last = c
		}
		to.Pix[i] = index
	}
	return to
}
