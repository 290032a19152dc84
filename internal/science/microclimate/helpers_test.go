package microclimate

import (
	"math"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var (
	winterStart = time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)
	loamAt45    = Site{Latitude: 45, Longitude: -92, ElevationM: 300, Soil: Loam}
)

// wave is a sine of period one.
func wave(x float64) float64 { return math.Sin(2 * math.Pi * x) }

// hourOf is a night hour with every quantity known.
func hourOf(at time.Time, air, cloud, wind float64) weather.Hour {
	return weather.Hour{
		At: at, Air: unit.Some(unit.Celsius(air)), DewPoint: unit.Some(unit.Celsius(air - 2)),
		Wind: unit.Some(wind), Cloud: unit.Some(cloud), Precip: unit.Some(0.0),
	}
}

// changeableHours are hours of an early winter with a daily course, wind, cloud
// and some precipitation.
func changeableHours(n int) []weather.Hour {
	all := make([]weather.Hour, n)
	for i := range all {
		day := float64(i) / 24
		air := 1 - 8*wave(day/9) - 4*wave(day+0.4)
		h := hourOf(winterStart.Add(time.Duration(i)*time.Hour), air, 0.5+0.5*wave(day/4), 3+2*wave(day/3))
		if i%50 < 8 {
			h.Precip = unit.Some(0.7)
		}
		all[i] = h
	}
	return all
}

// bed is a ground and the coldest it saw since it was last asked.
type bed struct {
	Ground
	site     Site
	on       Dressing
	heightCm float64

	leaf, crown, shoulder, at5 float64
	crust                      float64
}

func newBed(site Site, on Dressing, at time.Time) *bed {
	b := &bed{Ground: NewGround(site, at), site: site, on: on, heightCm: 20}
	b.forget()
	return b
}

func (b *bed) forget() {
	b.leaf, b.crown, b.shoulder, b.at5, b.crust = math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1), 0
}

func (b *bed) through(t require.TestingT, hours []weather.Hour) {
	for _, h := range hours {
		require.NoError(t, b.Step(&b.site, b.on, h))
		l, err := b.Leaf(&b.site, b.on, h, b.heightCm)
		require.NoError(t, err)
		b.leaf = min(b.leaf, float64(l))
		b.crown = min(b.crown, float64(b.Crown()))
		b.shoulder = min(b.shoulder, float64(b.Shoulder(2.5)))
		b.at5 = min(b.at5, float64(b.SoilAt(5)))
		b.crust = max(b.crust, b.FrozenCm())
	}
}
