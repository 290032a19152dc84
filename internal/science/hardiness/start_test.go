package hardiness

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

func TestDefaultStartFollowsTheSeason(t *testing.T) {
	h := find(t, "chard").Sold
	july, _ := DefaultStart(h, 46, 200)
	october, _ := DefaultStart(h, 46, 295)
	january, wide := DefaultStart(h, 46, 15)
	assert.InDelta(t, float64(h.Unhardened), float64(july), 0.1)
	assert.Less(t, october, july)
	assert.Less(t, january, unit.Celsius(-12))
	assert.GreaterOrEqual(t, january, h.Full)
	assert.Greater(t, wide, unit.Kelvins(3), "a guess is wide")
	t.Logf("46°N: July %.1f, late October %.1f, mid January %.1f °C", july, october, january)
}

func TestDefaultStartKnowsTheOtherHemisphereAndTheTropics(t *testing.T) {
	h := find(t, "chard").Sold
	south, _ := DefaultStart(h, -46, 15)
	assert.InDelta(t, float64(h.Unhardened), float64(south), 0.1)
	winter, _ := DefaultStart(h, -46, 15+183)
	assert.Less(t, winter, unit.Celsius(-11))
	tropic, narrow := DefaultStart(h, 10, 15)
	assert.Equal(t, h.Unhardened, tropic)
	assert.Equal(t, unit.Kelvins(1.5), narrow)
}

// Two days apart, or across the new year, the guess must not jump.
func TestDefaultStartIsSmooth(t *testing.T) {
	h := find(t, "spinach").Sold
	for day := 1; day <= 366; day++ {
		a, _ := DefaultStart(h, 45, day)
		b, _ := DefaultStart(h, 45, day%366+1)
		assert.InDelta(t, float64(a), float64(b), 0.6, "day %d", day)
	}
}
