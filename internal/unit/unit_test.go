package unit

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Fixed points of the scales (NIST Special Publication 811): water freezes at
// 32 °F and 273.15 K and boils at 212 °F; -40 is the same in both.
func TestTemperatureScales(t *testing.T) {
	for f, c := range map[float64]float64{32: 0, 212: 100, -40: -40, 28: -2.2222} {
		assert.InDelta(t, c, float64(FromFahrenheit(f)), 1e-4)
		assert.InDelta(t, f, Celsius(c).Fahrenheit(), 1e-3)
	}
	assert.Equal(t, Celsius(-3), Celsius(2).Plus(-5))
	assert.Equal(t, Kelvins(7), Celsius(2).Minus(-5))
}

func TestOnlyNumbersAreFinite(t *testing.T) {
	assert.True(t, Celsius(-40).Finite())
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		assert.False(t, Celsius(v).Finite(), v)
	}
}

func TestParseSystem(t *testing.T) {
	for _, s := range []System{US, Metric} {
		got, err := ParseSystem(string(s))
		require.NoError(t, err)
		assert.Equal(t, s, got)
	}
	_, err := ParseSystem("US")
	assert.ErrorContains(t, err, `"US": must be us or metric`)
}

// A pound is 0.45359237 kg and an inch 2.54 cm, exactly.
func TestWhatPeopleRead(t *testing.T) {
	for _, c := range []struct{ metric, us, wantMetric, wantUS string }{
		{Metric.Temperature(-6.66), US.Temperature(-6.66), "-6.7 °C", "20 °F"},
		{Metric.Temperature(-0.04), US.Temperature(-17.9), "0.0 °C", "0 °F"},
		{Metric.PlainTemperature(-6.66), US.PlainTemperature(-6.66), "-6.7C", "20F"},
		{Metric.Difference(1), US.Difference(1), "1.0 K", "1.8 °F"},
		{Metric.Difference(-0.04), US.Difference(-0.02), "0.0 K", "0.0 °F"},
		{Metric.Difference(-2.5), US.Difference(-2.5), "-2.5 K", "-4.5 °F"},
		{Metric.Mass(20), US.Mass(20), "20 kg", "44 lb"},
		{Metric.Mass(9.94), US.Mass(0.45359237), "9.9 kg", "1 lb"},
		{Metric.Mass(10), US.Mass(4.5359237), "10 kg", "10 lb"},
		{Metric.Depth(10), US.Depth(10), "10 cm", "4 in"},
	} {
		assert.Equal(t, c.wantMetric, c.metric)
		assert.Equal(t, c.wantUS, c.us)
	}
}

func TestAMissingValueIsNotZero(t *testing.T) {
	none, zero := None[float64](), Some(0.0)
	assert.False(t, none.Known())
	assert.True(t, zero.Known())
	assert.True(t, none.IsZero())
	assert.False(t, zero.IsZero())
	assert.Equal(t, 7.0, none.Else(7))
	assert.Equal(t, 0.0, zero.Else(7))
	assert.Nil(t, none.Pointer())
	assert.Equal(t, 0.0, *zero.Pointer())
}

func TestAMissingValueInJSON(t *testing.T) {
	type pair struct {
		A Maybe[float64] `json:"a"`
		B Maybe[float64] `json:"b,omitzero"`
	}
	body, err := json.Marshal(pair{})
	require.NoError(t, err)
	assert.JSONEq(t, `{"a":null}`, string(body))
	body, err = json.Marshal(pair{A: Some(0.0), B: Some(2.5)})
	require.NoError(t, err)
	assert.JSONEq(t, `{"a":0,"b":2.5}`, string(body))
	back := pair{A: Some(1.0)}
	require.NoError(t, json.Unmarshal([]byte(`{"a":null,"b":0}`), &back))
	assert.Equal(t, pair{B: Some(0.0)}, back)
	assert.Error(t, json.Unmarshal([]byte(`{"a":"cold"}`), &back))
	assert.False(t, back.A.Known(), "what cannot be read is missing")
}
