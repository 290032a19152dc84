package hardiness

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

// The corners of the stationary level, worked by hand from the rule: linear
// from L0 at 10 °C to L1 at 2 °C to Lm at −2 °C.
func TestStationaryLevel(t *testing.T) {
	h := bare(-5, -9, -13, 0.35, 1, 1).Hardening
	for _, c := range []struct{ at, want float64 }{
		{20, -5}, {10, -5}, {6, -7}, {4, -8}, {2, -9}, {1, -10}, {0, -11}, {-1, -12}, {-2, -13}, {-15, -13},
	} {
		assert.InDelta(t, c.want, stationary(h, c.at), 1e-12, "at %g °C", c.at)
	}
}

func TestHardeningPace(t *testing.T) {
	p := bare(-5, -9, -13, 0.24, 1, 1)
	for _, c := range []struct {
		why           string
		from, at      float64
		perHour, slip float64
	}{
		{"warm and unhardened: nothing", -5, 15, 0, 1e-12},
		{"6 °C: a hundredth of the way to −7", -5, 6, -0.02, 1e-12},
		{"gate: at −2 °C an unhardened plant goes for −9, not −13", -5, -2, -0.04, 1e-12},
		{"gate open from 0.6 of the first stage: −7.4", -7.4, -2, -0.056, 1e-12},
		{"hard frozen at −4 °C: half the pace", -8, -4, -0.025, 1e-12},
		{"hard frozen at −6 °C: none", -8, -6, 0, 1e-12},
		{"hard frozen at −20 °C: none", -8, -20, 0, 1e-12},
		{"5 °C: nothing is lost", -9, 5, 0, 1e-12},
		{"20 °C: 1/day of the way back", -9, 20, 4.0 / 24, 1e-12},
		{"12.5 °C: (7.5/15)^1.5 of that", -9, 12.5, 4.0 / 24 * math.Pow(0.5, 1.5), 1e-12},
		{"40 °C: never faster than 1.5/day", -9, 40, 1.5 * 4 / 24, 1e-12},
	} {
		got := harden(p.Hardening, unit.Celsius(c.from), unit.Celsius(c.at))
		assert.InDelta(t, c.perHour, float64(got), c.slip, c.why)
	}
}

func TestAnUnknownTemperatureIsAnErrorNeverWarm(t *testing.T) {
	p, s := bare(-5, -9, -13, 0.35, 1, 1), Start(bare(-5, -9, -13, 0, 1, 1).Hardening, -8)
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		after, err := Step(p, s, unit.Celsius(bad))
		require.ErrorIs(t, err, ErrTissueUnknown)
		assert.Equal(t, s, after, "the state must come back untouched")
	}
	_, err := steps(p, s, course{1, 2, unit.Celsius(math.NaN()), 3})
	require.ErrorIs(t, err, ErrTissueUnknown)
	assert.ErrorContains(t, err, "hour 2")
}

func TestAWidthOfZeroIsAnError(t *testing.T) {
	_, err := Step(Params{}, State{Survival: 1}, -5)
	require.ErrorIs(t, err, ErrParams)
}

func TestStartStaysWithinWhatTheCropCanHave(t *testing.T) {
	h := bare(-5, -9, -13, 0.35, 1, 1).Hardening
	for _, c := range []struct{ given, want float64 }{{-7, -7}, {0, -5}, {-40, -13}, {math.NaN(), -5}} {
		assert.Equal(t, unit.Celsius(c.want), Start(h, unit.Celsius(c.given)).LT50)
	}
}

// A state saved under a catalogue with hardier figures must not keep them.
func TestASavedStateBeyondTheCropIsBroughtBack(t *testing.T) {
	p := bare(-5, -9, -13, 0.35, 1, 1)
	s, err := Step(p, State{LT50: -20, Survival: 1, Quality: 1}, -8)
	require.NoError(t, err)
	assert.Equal(t, unit.Celsius(-13), s.LT50)
}

func TestOffsetMovesWhatKillsNotTheState(t *testing.T) {
	p := bare(-8, -8, -8, 0, 1, 1)
	s := Start(p.Hardening, -8)
	p.Offset = -2
	assert.Equal(t, unit.Celsius(-10), p.Tolerance(s))
	after := advance(t, p, s, hold(1, -10))
	assert.InDelta(t, 0.5, after.Survival, 1e-12)
	assert.Equal(t, unit.Celsius(-8), after.LT50)
}

func TestForCrown(t *testing.T) {
	p, ok := ForCrown(find(t, "spinach"))
	require.True(t, ok)
	assert.Zero(t, p.Margin)
	_, ok = ForCrown(find(t, "tomato"))
	assert.False(t, ok)
}

func TestStateSurvivesJSONBitForBit(t *testing.T) {
	s := State{LT50: -7.1234567890123456, Survival: 1.0 / 3, Quality: 0.1 + 0.2, EventKill: math.SmallestNonzeroFloat64,
		EventDamage: math.Nextafter(0.5, 1), WarmHours: 2, ChillHours: 17, ChillDamage: 1e-300}
	b, err := json.Marshal(s)
	require.NoError(t, err)
	var back State
	require.NoError(t, json.Unmarshal(b, &back))
	assert.Equal(t, s, back)
}

func TestStepDoesNotAllocate(t *testing.T) {
	p, s := ForSold(find(t, "cucumber")), State{LT50: -2, Survival: 1, Quality: 1}
	allocs := testing.AllocsPerRun(100, func() {
		for _, at := range []unit.Celsius{12, 5, -1, -4} {
			s, _ = Step(p, s, at)
		}
	})
	assert.Zero(t, allocs)
}

func BenchmarkStep(b *testing.B) {
	p := ForSold(find(b, "spinach"))
	c := days(7, -6, 8)
	s := Start(p.Hardening, -8)
	b.ReportAllocs()
	for i := range b.N {
		s, _ = Step(p, s, c[i%len(c)])
	}
}
