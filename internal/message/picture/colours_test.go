package picture

import (
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Each pixel gets the ink nearest to it, whatever stands beside it, also in a
// part of a larger picture.
func TestEachPixelGetsItsNearestInk(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 2))
	whole := image.NewRGBA(image.Rect(0, 0, 40, 30))
	c := color.RGBA{A: 255}
	for i := range 40 * 30 {
		if chance.IntN(3) == 0 {
			c = color.RGBA{R: uint8(chance.IntN(256)), G: uint8(chance.IntN(256)), B: uint8(chance.IntN(256)), A: 255}
		}
		whole.SetRGBA(i%40, i/40, c)
	}
	for _, from := range []image.Image{whole, whole.SubImage(image.Rect(3, 5, 37, 28))} {
		got := fewColours(from)
		for y := got.Rect.Min.Y; y < got.Rect.Max.Y; y++ {
			for x := got.Rect.Min.X; x < got.Rect.Max.X; x++ {
				assert.Equal(t, inkwell().Index(from.At(x, y)), int(got.ColorIndexAt(x, y)), "%d, %d", x, y)
			}
		}
	}
}
