package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// area of a polygon by the shoelace formula.
func area(p []pt) float64 {
	sum := 0.0
	for i := range p {
		j := (i + 1) % len(p)
		sum += p[i].x*p[j].y - p[j].x*p[i].y
	}
	return math.Abs(sum) / 2
}

// What is filled is the integral of how far the lower curve lies below the
// upper one, counted here in fine steps.
func TestFilledAreaIsTheIntegral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 20).Draw(t, "n")
		upper, lower := make([]sample, n), make([]sample, n)
		for i := range n {
			upper[i] = sample{float64(10 * i), rapid.Float64Range(0, 100).Draw(t, "upper"), rapid.IntRange(0, 9).Draw(t, "gap") > 0}
			lower[i] = sample{float64(10 * i), rapid.Float64Range(0, 100).Draw(t, "lower"), true}
		}
		filled := 0.0
		for _, p := range between(upper, lower) {
			filled += area(p)
		}
		want := 0.0
		const steps = 400
		for i := 1; i < n; i++ {
			if !upper[i-1].ok || !upper[i].ok {
				continue
			}
			for k := range steps {
				w := (float64(k) + 0.5) / steps
				d := (lower[i-1].y-upper[i-1].y)*(1-w) + (lower[i].y-upper[i].y)*w
				want += max(d, 0) * 10 / steps
			}
		}
		assert.InDelta(t, want, filled, 0.01*float64(n)+1e-6*want)
	})
}

func TestSimplerStaysWithinItsTolerance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var line []pt
		for i := range rapid.IntRange(2, 60).Draw(t, "n") {
			line = append(line, pt{float64(i), rapid.Float64Range(0, 3).Draw(t, "y")})
		}
		kept := simpler(line, 0.5)
		assert.Equal(t, line[0], kept[0])
		assert.Equal(t, line[len(line)-1], kept[len(kept)-1])
		for _, p := range line {
			nearest := math.Inf(1)
			for i := 1; i < len(kept); i++ {
				nearest = min(nearest, distance(p, kept[i-1], kept[i]))
			}
			assert.LessOrEqual(t, nearest, 0.5)
		}
	})
	straight := []pt{{0, 0}, {1, 1}, {2, 2}, {3, 3}}
	assert.Equal(t, []pt{{0, 0}, {3, 3}}, simpler(straight, 0.01))
}

func TestUnbroken(t *testing.T) {
	got := unbroken([]sample{{1, 1, true}, {2, 2, true}, {3, 0, false}, {4, 4, true}})
	assert.Equal(t, [][]pt{{{1, 1}, {2, 2}}, {{4, 4}}}, got)
}

func TestCurveLeavesThroughTheTop(t *testing.T) {
	top, in := plotTop, plotTop+10
	got := offTheTop([]pt{{1, in}, {2, top}, {3, top}, {4, top}, {5, in}, {6, in}})
	assert.Equal(t, [][]pt{{{1, in}, {2, top}}, {{4, top}, {5, in}, {6, in}}}, got)
	assert.Empty(t, offTheTop([]pt{{1, top}, {2, top}}))
	assert.Equal(t, [][]pt{{{1, in}, {2, in}}}, offTheTop([]pt{{1, in}, {2, in}}))
}

// A label fits under a floor of 100 px where the floor runs all along it and
// nothing falls to its top, 11 px over its foot; what happens beside it does not
// matter.
func TestRoomForALabelUnderTheFloor(t *testing.T) {
	line := func(y float64) (all []sample) {
		for x := 40.0; x <= 200; x += 10 {
			all = append(all, sample{x, y, true})
		}
		return all
	}
	floor := line(100)
	floor[6].y = 104 // at x 100
	for name, c := range map[string]struct {
		change func(floor, coldest []sample)
		free   bool
	}{
		"nothing near":              {func(_, _ []sample) {}, true},
		"a fall into it":            {func(_, c []sample) { c[6].y = 110 }, false},
		"a fall that just misses":   {func(_, c []sample) { c[5].y = 105 }, true},
		"a fall beside it":          {func(_, c []sample) { c[1].y, c[15].y = 150, 150 }, true},
		"a gap in the floor":        {func(f, _ []sample) { f[6].ok = false }, false},
		"a gap beside it":           {func(f, _ []sample) { f[1].ok, f[15].ok = false, false }, true},
		"a floor that ends over it": {func(f, _ []sample) { copy(f[8:], make([]sample, 9)) }, false},
	} {
		f, coldest := append([]sample{}, floor...), line(60)
		c.change(f, coldest)
		y, free := roomAt(f, coldest, 80, 60, 16)
		assert.Equal(t, c.free, free, name)
		if free {
			assert.Equal(t, 120.0, y, "%s: 16 px under its lowest place", name)
		}
	}
}
