package verdict_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// apply gives the error of one member an hour and nine days ahead.
func apply(v verdict.Verified) (near, far unit.Kelvins) {
	now := time.Date(2026, 11, 10, 12, 0, 0, 0, time.UTC)
	hours := []weather.Hour{{At: now.Add(time.Hour)}, {At: now.Add(9 * 24 * time.Hour)}}
	members := []bed.Member{{Error: []unit.Kelvins{2, 2}}}
	v.Apply(members, hours, now)
	return members[0].Error[0], members[0].Error[1]
}

func TestAForecastThatHasTaughtNothingErrsAsUsual(t *testing.T) {
	near, far := apply(verdict.Verified{})
	assert.InDelta(t, 2, float64(near), 1e-9)
	assert.InDelta(t, 2, float64(far), 1e-9)
}

func TestAForecastThatRunsWarmIsBroughtDownAndAGoodOneTrustedWithinBounds(t *testing.T) {
	var v verdict.Verified
	for i := range 120 {
		v.Learn(1, -4, unit.Celsius(-5.5+0.2*float64(i%3-1)), -4)
	}
	near, far := apply(v)
	assert.Less(t, float64(near), 0.6, "shifted by -1.2 K and narrowed, but not below the least ratio")
	assert.Greater(t, float64(near), -0.2)
	assert.InDelta(t, 2, float64(far), 1e-9, "other leads have taught nothing")
	assert.Equal(t, near, func() unit.Kelvins { n, _ := apply(v); return n }(), "the same again")
}
