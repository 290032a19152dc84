package round_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// outcomes are what the book says came of the nights judged so far.
func (b *fieldBench) outcomes() (lost, low map[farm.Day]unit.Maybe[float64]) {
	b.Helper()
	require.NoError(b, b.watcher.Score(b.Context()))
	all, err := b.store.Judgements(b.Context(), b.farm, "2025-11-01", "2025-11-30")
	require.NoError(b, err)
	lost, low = map[farm.Day]unit.Maybe[float64]{}, map[farm.Day]unit.Maybe[float64]{}
	for _, j := range all {
		if seen, known := lost[j.Night]; known {
			require.Equal(b, seen, j.Lost, "all that was stated of a night has one outcome: %s", j.Night)
		}
		lost[j.Night], low[j.Night] = j.Lost, j.AirMinWas
	}
	return lost, low
}

// A mild night cost nothing, the night of -14 °C took the chard, and of the nights
// after it nobody can be right or wrong. The low is that of the bed's air.
func TestNightsAreScoredByWhatTheyBrought(t *testing.T) {
	b := newFieldBench(t)
	b.sky.hard["2025-11-06"] = true
	b.until("2025-11-09 18:00")
	lost, low := b.outcomes()
	for _, night := range []farm.Day{"2025-11-04", "2025-11-05"} {
		assert.Equal(t, unit.Some(0.0), lost[night], night)
		assert.InDelta(t, 4, low[night].Else(99), 0.01, night)
	}
	assert.Greater(t, lost["2025-11-06"].Else(0), 0.9)
	assert.InDelta(t, -14, low["2025-11-06"].Else(99), 0.01)
	for _, night := range []farm.Day{"2025-11-07", "2025-11-08", "2025-11-09"} { // it was lost before; the last is not over
		assert.False(t, lost[night].Known(), night)
	}
}

// What people found is what came of a night, and the bed stood for the next ones.
func TestAFindingDecidesANight(t *testing.T) {
	b := newFieldBench(t)
	b.sky.hard["2025-11-06"] = true
	b.until("2025-11-07 15:00")
	_, err := b.AddFinding(t.Context(), b.farm, commands.FindingInput{BedID: commands.Give(b.bed), Night: commands.Give("2025-11-06"), LostFraction: commands.Give(0.1)})
	require.NoError(t, err)
	b.until("2025-11-09 15:00")
	lost, _ := b.outcomes()
	assert.Equal(t, unit.Some(0.1), lost["2025-11-06"])
	assert.Equal(t, unit.Some(0.0), lost["2025-11-08"], "what was left came through it")
	assert.False(t, lost["2025-11-09"].Known(), "the night to come")
	assert.Zero(t, b.scoredAgain(t), "a night is scored once")
}

// scoredAgain is how many outcomes another scoring would change.
func (b *fieldBench) scoredAgain(t *testing.T) (changed int) {
	before, _ := b.outcomes()
	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error {
		return tx.ScoreJudgement(t.Context(), b.bed, "2025-11-08", 0.7, -9)
	}))
	after, _ := b.outcomes()
	for night, was := range before {
		if night != "2025-11-08" && after[night] != was || night == "2025-11-08" && after[night] != unit.Some(0.7) {
			changed++
		}
	}
	return changed
}
