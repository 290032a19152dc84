package stand_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/microclimate"
	"winterstand/internal/stand"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func TestFoliageByCrop(t *testing.T) {
	catalogue, err := crop.Default()
	require.NoError(t, err)
	for name, want := range map[string]stand.Foliage{
		"kale-curly": {Surface: microclimate.Stand},
		"beet":       {Surface: microclimate.Stand}, // stands out of the soil
		"onion":      {Surface: microclimate.Bare},
		"garlic":     {Surface: microclimate.Bare},
	} {
		c, err := catalogue.Find(name)
		require.NoError(t, err)
		assert.Equal(t, want, stand.FoliageOf(c), name)
	}
	carrot, err := catalogue.Find("carrot")
	require.NoError(t, err)
	assert.Positive(t, stand.FoliageOf(carrot).TopsCm)

	plain := stand.Class{Spans: []stand.Span{{MulchCm: 10}}}
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
	low := func(f stand.Foliage) float64 {
		class := stand.Class{Site: microclimate.Site{Latitude: 45, Longitude: -90, Soil: microclimate.Loam}, Spans: []stand.Span{{}}, Foliage: f}
		book := stand.NewBook(&class, nil, start)
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
	open, leaves, tops := low(stand.Foliage{Surface: microclimate.Bare}), low(stand.Foliage{Surface: microclimate.Stand}), low(stand.Foliage{Surface: microclimate.Stand, TopsCm: 2})
	t.Logf("a day at -9 °C: shoulder %.1f °C in the open, %.1f °C under leaves, %.1f °C under tops", open, leaves, tops)
	assert.Less(t, open, leaves-0.5)
	assert.Less(t, leaves, tops-0.5)
}
