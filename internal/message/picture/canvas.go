package picture

// pt is a point in pixels of a picture 360 wide, y downwards.
type pt struct{ x, y float64 }

// Inks are chosen so that they stay apart in grey print; each also has a form of
// its own, so that nothing is told by colour alone.
const (
	black = "#111111"
	grey  = "#5c5c5c"
	pale  = "#c4c4c4"
	dusk  = "#ececf1" // night
	sky   = "#a9c4da" // air band
	leafy = "#12324a" // tissue
	brick = "#7c2415" // floor, and what falls through it
	blush = "#e3a08f"
	work  = "#2d5d3b"
	white = "#ffffff"
)

type anchor int

const (
	start anchor = iota
	middle
	end
)

// pen is how a line is drawn; no dash: solid.
type pen struct {
	ink   string
	width float64
	dash  []float64
}

// lettering is how a text is set.
type lettering struct {
	ink  string
	size float64
	bold bool
	at   anchor
}

// canvas is what the drawing needs; SVG and PNG each are one.
type canvas interface {
	fill(ink string, polygons ...[]pt)
	line(p pen, lines ...[]pt)
	text(f lettering, at pt, s string)
}

func box(x, y, w, h float64) []pt {
	return []pt{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
}

func rect(c canvas, ink string, x, y, w, h float64) { c.fill(ink, box(x, y, w, h)) }

func frame(c canvas, p pen, x, y, w, h float64) {
	around := box(x, y, w, h)
	c.line(p, append(around, around[0]))
}
