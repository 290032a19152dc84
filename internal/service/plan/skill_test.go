package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Judgements of the book become rows: two of one night, told two days before,
// and a bed whose list speaks of the soil, which no rule on the air can use.
func TestSkillOfTheBook(t *testing.T) {
	b := newBench(t)
	chard, carrot := b.bed("A1", "chard", 50, commands.BedInput{}), b.bed("A2", "carrot", 50, commands.BedInput{})
	night := farm.Day("2026-11-10")
	told := time.Date(2026, 11, 9, 6, 0, 0, 0, time.UTC) // midnight in Chicago
	entry := func(bed farm.Bed, lead int, at time.Time, p float64, acted bool) store.Judgement {
		return store.Judgement{FarmID: b.farm, BedID: bed.ID, Crop: bed.Crop, Night: night, LeadDays: lead, IssuedAt: at, Likelihood: p, CostLoss: 0.2, Acted: acted, AirMinC: -9}
	}
	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error {
		err := tx.AddJudgements(t.Context(), []store.Judgement{
			entry(chard, 2, told, 0.6, true), entry(chard, 1, told.Add(24*time.Hour), 0.8, true), entry(carrot, 1, told.Add(24*time.Hour), 0.1, false),
			{FarmID: b.farm, BedID: chard.ID, Crop: "chard", Night: "2026-11-20", LeadDays: 3, IssuedAt: told, Likelihood: 0.3, AirMinC: -4},
		})
		if err != nil {
			return err
		}
		if err := tx.ScoreJudgement(t.Context(), chard.ID, night, 0.7, -9.5); err != nil {
			return err
		}
		return tx.ScoreJudgement(t.Context(), carrot.ID, night, 0.0, -9.5)
	}))
	r, err := b.Skill(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Equal(t, 3, r.Cases)
	assert.Equal(t, 1, r.Unknown)
	assert.Equal(t, 2, r.Verdicts.Hits)
	assert.Equal(t, 1, r.Verdicts.CorrectNegatives)
	assert.Equal(t, unit.Some(48.0), r.Lead.Shortest, "both rows count from the first notice to midnight of the night")
	assert.Equal(t, unit.Some(48.0), r.Lead.Longest)
	score, ok := r.Brier.Score.Get()
	require.True(t, ok)
	assert.InDelta(t, (0.16+0.04+0.01)/3, score, 1e-12, "Brier 1950: mean of (p − o)²")
	assert.Equal(t, 2, r.Value.Cases, "without the carrots")
	all, err := b.Skill(t.Context(), 0)
	require.NoError(t, err)
	assert.Equal(t, r, all)
}
