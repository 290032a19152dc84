package bed_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func TestFoliageByCrop(t *testing.T) {
	catalogue, err := crop.Default()
	require.NoError(t, err)
	for name, want := range map[string]bed.Foliage{
		"kale-curly": {Surface: microclimate.Stand},
		"beet":       {Surface: microclimate.Stand}, // stands out of the soil
		"onion":      {Surface: microclimate.Bare},
		"garlic":     {Surface: microclimate.Bare},
	} {
		c, err := catalogue.Find(name)
		require.NoError(t, err)
		assert.Equal(t, want, bed.FoliageOf(c), name)
	}
	carrot, err := catalogue.Find("carrot")
	require.NoError(t, err)
	assert.Positive(t, bed.FoliageOf(carrot).TopsCm)

	plain := bed.Class{Spans: []bed.Span{{MulchCm: 10}}}
	grown := plain.Growing(carrot)
	assert.NotEqual(t, plain.Key(), grown.Key(), "another ground")
	assert.Zero(t, plain.Foliage, "the class that was asked is left as it was")
	assert.InDelta(t, 10+carrot.TopsCm, grown.Dressing(time.Now()).MulchCm, 1e-12)
	assert.InDelta(t, 10, grown.Over(time.Now()).MulchCm, 1e-12, "people are told of their own straw only")
}

// On a frosty night the shoulder is warmest under tops, then under leaves, and
// coldest in the open: the order in which practice digs.
func TestFoliageKeepsTheShoulder(t *testing.T) {
	start := time.Date(2024, 11, 1, 0, 0, 0, 0, time.UTC)
	low := func(f bed.Foliage) float64 {
		class := bed.Class{Site: microclimate.Site{Latitude: 45, Longitude: -90, Soil: microclimate.Loam}, Spans: []bed.Span{{}}, Foliage: f}
		book := bed.NewBook(&class, nil, start)
		coldest := 99.0
		for i := range 20 * 24 {
			air := unit.Celsius(4)
			if i >= 19*24 {
				air = -9
			}
			h := weather.Hour{At: start.Add(time.Duration(i) * time.Hour), Air: unit.Some(air), Precip: unit.Some(0.0)}
			require.NoError(t, book.Advance(&class, nil, []weather.Hour{h}))
			coldest = min(coldest, float64(book.Ground.Shoulder(2.5)))
		}
		return coldest
	}
	open, leaves, tops := low(bed.Foliage{Surface: microclimate.Bare}), low(bed.Foliage{Surface: microclimate.Stand}), low(bed.Foliage{Surface: microclimate.Stand, TopsCm: 2})
	t.Logf("a day at -9 °C: shoulder %.1f °C in the open, %.1f °C under leaves, %.1f °C under tops", open, leaves, tops)
	assert.Less(t, open, leaves-0.5)
	assert.Less(t, leaves, tops-0.5)
}
