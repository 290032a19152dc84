package microclimate

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func TestBiasBeginsAtTheLowSpot(t *testing.T) {
	var b FieldBias
	assert.Equal(t, unit.Kelvins(-2), b.BiasFor(true, 2))
	assert.Equal(t, unit.Kelvins(-1), b.BiasFor(false, 2))
	assert.Equal(t, unit.Kelvins(0), b.BiasFor(true, 0))
}

func TestBiasLearnsEachKindOfNightApart(t *testing.T) {
	var b FieldBias
	for range 60 {
		require.True(t, b.Update(-9, -5, true))
		require.True(t, b.Update(-5.5, -5, false))
	}
	// Ten nights' weight against the prior's three: 10/13 of the way.
	assert.InDelta(t, -4*10.0/13-2*3.0/13, float64(b.BiasFor(true, 2)), 0.01)
	assert.InDelta(t, -0.5*10.0/13-1*3.0/13, float64(b.BiasFor(false, 2)), 0.01)
	assert.EqualValues(t, 60, b.Calm.Nights)
	b = FieldBias{}
	assert.Equal(t, unit.Kelvins(-2), b.BiasFor(true, 2), "reset")
}

func TestBiasFollowsRecentNights(t *testing.T) {
	var b FieldBias
	for range 30 {
		b.Update(-7, -5, true)
	}
	for range 10 {
		b.Update(-5, -5, true)
	}
	assert.Greater(t, b.Calm.MeanK, -1.0, "ten nights outweigh what was before")
}

func TestBiasRefusesNonsense(t *testing.T) {
	var b FieldBias
	assert.False(t, b.Update(unit.Celsius(math.NaN()), -5, true))
	assert.False(t, b.Update(-5, unit.Celsius(math.Inf(1)), true))
	assert.False(t, b.Update(20, -5, true), "a thermometer in the kitchen")
	assert.Equal(t, FieldBias{}, b)
}

func TestBiasSurvivesJSON(t *testing.T) {
	var b, back FieldBias
	b.Update(-6.1, -5.3, true)
	b.Update(-5.7, -5.1, false)
	text, err := json.Marshal(b)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &back))
	assert.Equal(t, b, back)
}

func TestClearCalm(t *testing.T) {
	calm := weather.Hour{Cloud: unit.Some(0.1), Wind: unit.Some(1.0)}
	assert.True(t, ClearCalm(calm))
	assert.False(t, ClearCalm(weather.Hour{Cloud: unit.Some(0.1)}), "wind not known")
	assert.False(t, ClearCalm(weather.Hour{Wind: unit.Some(1.0)}), "cloud not known")
	assert.False(t, ClearCalm(weather.Hour{Cloud: unit.Some(0.9), Wind: unit.Some(1.0)}))
	assert.False(t, ClearCalm(weather.Hour{Cloud: unit.Some(0.1), Wind: unit.Some(6.0)}))
}
