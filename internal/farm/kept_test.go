package farm

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

var six = time.Date(2025, 11, 14, 6, 0, 0, 0, time.UTC)

func hoursOn(n float64) time.Time { return six.Add(time.Duration(n * float64(time.Hour))) }

// A forecast counts for as long as the farm bears, to the minute, and not if it is
// stamped more than an hour ahead.
func TestWhatAForecastIsWorthByItsAge(t *testing.T) {
	f := Farm{BlindAfter: 24 * time.Hour}
	for hours, want := range map[float64]Blindness{0: "", 24: "", 24.01: TooOld, -1: "", -1.01: FromFuture, 1000: TooOld} {
		assert.Equal(t, want, f.CannotSee(six, hoursOn(hours)), "%v h after it was issued", hours)
	}
	assert.Equal(t, NoForecast, f.CannotSee(time.Time{}, six))
}

// kept is a bed with a deadline in ten hours and windows of 2 to 4 and 8 to 10 h.
func kept() Verdict {
	return Verdict{State: HarvestBefore, AsOf: six, Night: "2025-11-14", HarvestBefore: unit.Some(hoursOn(10)), Likelihood: unit.Some(0.6), SoldLeft: 0.9,
		LossShare: 0.2, CostLoss: 0.15, Cover: "low_tunnel", MulchCm: 5, Members: 51, AlreadyLost: true, Forecast: Basis{ID: 3, Issued: six},
		LastWindow: unit.Some(Window{hoursOn(8), hoursOn(10)}), Windows: []Window{{hoursOn(2), hoursOn(4)}, {hoursOn(8), hoursOn(10)}}}
}

// What was judged at six is worth less by the hour: windows pass, then the deadline,
// then the forecast.
func TestAVerdictAgesWithTheClock(t *testing.T) {
	f := Farm{BlindAfter: 24 * time.Hour}
	for hours, want := range map[float64][]Window{0: {{hoursOn(2), hoursOn(4)}, {hoursOn(8), hoursOn(10)}}, 2: {{hoursOn(2), hoursOn(4)}, {hoursOn(8), hoursOn(10)}},
		3: {{hoursOn(3), hoursOn(4)}, {hoursOn(8), hoursOn(10)}}, 4: {{hoursOn(8), hoursOn(10)}}, 9.5: {{hoursOn(9.5), hoursOn(10)}}} {
		v := Keep(kept()).At(hoursOn(hours), f)
		assert.Equal(t, want, v.Windows, "after %v h", hours)
		assert.Equal(t, HarvestBefore, v.State, "after %v h", hours)
		assert.Equal(t, unit.Some(hoursOn(10)), v.HarvestBefore)
	}
	for _, hours := range []float64{10, 24} {
		v := Keep(kept()).At(hoursOn(hours), f)
		assert.Equal(t, TooLate, v.State, "after %v h", hours)
		assert.False(t, v.HarvestBefore.Known() || v.LastWindow.Known(), "after %v h", hours)
		assert.Empty(t, v.Windows)
		assert.Equal(t, unit.Some(0.6), v.Likelihood)
	}
	old := Keep(kept()).At(hoursOn(25), f)
	assert.Equal(t, Verdict{State: Unknown, Blind: TooOld, AsOf: six, SoldLeft: 0.9, LossShare: 0.2, CostLoss: 0.15, Cover: "low_tunnel", MulchCm: 5, Members: 51,
		Forecast: Basis{ID: 3, Issued: six}}, old, "only what does not rest on the forecast is left")
	k := Keep(kept())
	k.At(hoursOn(3), f)
	judged, known := k.AsJudged()
	assert.True(t, known)
	assert.Equal(t, kept(), judged, "what is kept does not change")
}

func TestABedThatWasNeverJudgedIsUnknown(t *testing.T) {
	var k Kept
	assert.Equal(t, Verdict{State: Unknown, Blind: NotJudged}, k.At(six, Farm{BlindAfter: 24 * time.Hour}))
	_, known := k.AsJudged()
	assert.False(t, known)
	holes := Verdict{State: Unknown, Blind: Holes, Missing: []Gap{{What: GapWind, Hours: 9, Of: 48}}}
	assert.Equal(t, holes.Missing, Keep(holes).At(six, Farm{}).Missing, "why it was unknown stays, however old it is")
}

func TestAKeptVerdictAsJSON(t *testing.T) {
	for _, k := range []Kept{{}, Keep(Verdict{State: Holds, AsOf: six, Members: 51})} {
		body, err := json.Marshal(k)
		require.NoError(t, err)
		var back Kept
		require.NoError(t, json.Unmarshal(body, &back))
		assert.Equal(t, k, back)
	}
	body, err := json.Marshal(Kept{})
	require.NoError(t, err)
	assert.Equal(t, "null", string(body))
	full := Keep(Verdict{State: Holds})
	require.NoError(t, full.UnmarshalJSON([]byte("null")))
	assert.Equal(t, Kept{}, full, "null: never judged")
	assert.ErrorContains(t, full.UnmarshalJSON([]byte(`{"state":7}`)), "read verdict")
}
