package picture

import (
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	stdfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
)

// faces are Liberation Sans (SIL Open Font Licence), for the PNG and for
// measuring; browsers set the SVG in a face of about the same width.
var faces = sync.OnceValue(func() *font.Cache {
	face := func(weight stdfont.Weight, ttf []byte) font.Face {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic("picture: the embedded font cannot be read: " + err.Error())
		}
		return font.Face{Font: font.Font{Typeface: "Liberation", Variant: "Sans", Weight: weight}, Face: f}
	}
	return font.NewCache(font.Collection{
		face(stdfont.WeightNormal, liberationsansregular.TTF),
		face(stdfont.WeightBold, liberationsansbold.TTF),
	})
})

func faceOf(size float64, bold bool) font.Face {
	weight := stdfont.WeightNormal
	if bold {
		weight = stdfont.WeightBold
	}
	return faces().Lookup(font.Font{Typeface: "Liberation", Variant: "Sans", Weight: weight}, font.Length(size))
}

// textWidth in pixels; one point of the font stands for one pixel.
func textWidth(s string, size float64, bold bool) float64 {
	face := faceOf(size, bold)
	return face.Width(s).Points()
}

// fit shortens a text to a width, at a character, with an ellipsis. A browser's
// own face may run wider, so a little room stays.
func fit(s string, wide, size float64, bold bool) string {
	const spare = 0.94
	if textWidth(s, size, bold) <= wide*spare {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && textWidth(string(r)+"…", size, bold) > wide*spare {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}
