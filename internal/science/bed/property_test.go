package bed_test

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/crop"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// What is never safer: a colder night, a lighter cover, less snow. Over several
// days each of them may well be safer, and rightly so: cold hardens, a warm cover
// softens, and two frosts with a thaw between take more than one that lasts. So
// each is tried from one state through one night.

// novemberGround is ground as an autumn has left it at dusk, local time.
var novemberGround = sync.OnceValue(func() microclimate.Ground {
	g := microclimate.NewGround(north, september)
	for _, h := range autumn(75 * 24) {
		if err := g.Step(&north, microclimate.Dressing{}, h); err != nil {
			panic(err)
		}
	}
	return g
})

// dusk is when that ground has come to.
func dusk() time.Time { g := novemberGround(); return g.At() }

func anyCrop(t *rapid.T) crop.Crop {
	cat, err := crop.Default()
	require.NoError(t, err)
	return rapid.SampledFrom(cat.All()).Draw(t, "crop")
}

// anyBook is a plant of some hardiness on the November ground.
func anyBook(t *rapid.T, c crop.Crop) (bed.Book, bed.Plant) {
	p := bed.Plant{Crop: c, Offset: unit.Kelvins(rapid.Float64Range(-2, 2).Draw(t, "offset"))}
	class := open(c)
	b := bed.NewBook(&class, []bed.Plant{p}, dusk())
	b.Ground = novemberGround()
	hardened(&b, p, rapid.Float64Range(0, 1).Draw(t, "hardened"))
	return b, p
}

// darkNight is twelve hours without sun and one dip, the same sky throughout,
// that begins no warmer than a limit.
func darkNight(t *rapid.T, warmest float64) []weather.Hour {
	evening, low := rapid.Float64Range(-10, warmest).Draw(t, "evening"), rapid.Float64Range(-25, 2).Draw(t, "low")
	cloud, wind := rapid.Float64Range(0, 1).Draw(t, "cloud"), rapid.Float64Range(0, 8).Draw(t, "wind")
	out := make([]weather.Hour, 12)
	for i := range out {
		out[i] = hour(dusk().Add(time.Duration(i)*time.Hour), min(evening, low)+max(0, evening-low)*(1-float64(min(i, 10))/10))
		out[i].Cloud, out[i].Wind = unit.Some(cloud), unit.Some(wind)
	}
	return out
}

// freezing is air that takes heat from the November ground all night. In milder
// air what lies over a frozen bed also keeps it from thawing.
func freezing() float64 { return min(0, novemberGround().SurfaceC) - 2 }

// worse asks that no loss is smaller in the second course, within the rounding
// of the iteration that solves the ground (residual 0.005 W/m²).
func worse(t *rapid.T, mild, hard bed.Course, crowns bool) {
	const rounding = 5e-3
	for i := range mild.Loss {
		require.GreaterOrEqual(t, hard.Loss[i], mild.Loss[i]-rounding, "quality, hour %d", i)
		require.LessOrEqual(t, hard.Life[i], mild.Life[i]+rounding, "life, hour %d", i)
		if crowns {
			require.LessOrEqual(t, hard.CrownLife[i], mild.CrownLife[i]+rounding, "crown, hour %d", i)
		}
	}
}

func TestPropertyAColderNightIsNeverSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCrop(t)
		b, p := anyBook(t, c)
		class := open(c)
		k := unit.Kelvins(rapid.Float64Range(0, 12).Draw(t, "colder by"))
		got := try(t, &b, &class, p, darkNight(t, 8), []bed.Member{shifted(12, 0, 0), shifted(12, -k, 0)})
		worse(t, got[0], got[1], true)
	})
}

func TestPropertyALessHardyPlantIsNeverSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCrop(t)
		b, p := anyBook(t, c)
		class := open(c)
		z := rapid.Float64Range(0, 3).Draw(t, "less hardy by")
		got := try(t, &b, &class, p, darkNight(t, 8), []bed.Member{shifted(12, 0, 0), shifted(12, 0, z)})
		worse(t, got[0], got[1], true)
	})
}

// Covers are ordered by their night gain (package microclimate), which is that of
// leaves. The ground under a light cover may be the colder one, for there is less
// wind to warm it: floating covers were sometimes colder than open ground on
// clear nights (Oregon State University trials of 1983 and 1984).
func TestPropertyALighterCoverIsNeverSaferForLeaves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCrop(t)
		if !c.Organ.AboveGround() {
			t.Skip("a crop in the ground")
		}
		b, p := anyBook(t, c)
		covers := microclimate.Covers()
		heavy := rapid.SampledFrom(covers).Draw(t, "heavier")
		light := rapid.SampledFrom(covers).Draw(t, "lighter")
		if light.GainAt(0) > heavy.GainAt(0) {
			light, heavy = heavy, light
		}
		hours := darkNight(t, 8)
		for i := range hours {
			hours[i].Wind = unit.Some(1.0) // in wind light fabric is no cover at all
		}
		m := shifted(12, 0, 0)
		m.Cover = rapid.Float64Range(-3, 3).Draw(t, "gain")
		under := func(cover microclimate.Cover) bed.Course {
			class := open(c)
			class.Spans[0].Cover = cover
			return try(t, &b, &class, p, hours, []bed.Member{m})[0]
		}
		worse(t, under(heavy), under(light), false)
	})
}

func TestPropertyLessSnowIsNeverSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCrop(t)
		b, p := anyBook(t, c)
		little := rapid.Float64Range(0, 40).Draw(t, "less snow")
		much := little + rapid.Float64Range(0, 40).Draw(t, "more by")
		hours := darkNight(t, freezing())
		under := func(cm float64) bed.Course {
			class := open(c)
			class.Snow = []bed.SnowReading{{At: hours[0].At.Unix(), Cm: cm}}
			return try(t, &b, &class, p, hours, exactly(12))[0]
		}
		worse(t, under(much), under(little), true)
	})
}

func TestPropertyLessStrawIsNeverSaferForWhatLiesUnderIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCrop(t)
		b, p := anyBook(t, c)
		little := rapid.Float64Range(0, 20).Draw(t, "less straw")
		much := little + rapid.Float64Range(2, 20).Draw(t, "more by") // a few stalks only roughen the ground
		hours := darkNight(t, freezing())
		under := func(cm float64) bed.Course {
			class := open(c)
			class.Spans[0].MulchCm = cm
			return try(t, &b, &class, p, hours, exactly(12))[0]
		}
		worse(t, under(much), under(little), true)
	})
}
