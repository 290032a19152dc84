package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func TestThePlanTakesWhatIsDueWithTheHoursThereAre(t *testing.T) {
	b := newBench(t)
	b.room(farm.ColdStore, 1, 0)
	b.change(commands.FarmInput{Crew: commands.Set([]farm.Shift{{Day: "tue", From: "12:00", To: "14:00", People: 2}})})
	dear := b.bed("A1", "carrot", 80, commands.BedInput{PricePerKg: commands.Set(5.0), LiftKgPerHour: commands.Set(20.0)})
	cheap := b.bed("A2", "beet", 80, commands.BedInput{PricePerKg: commands.Set(1.0), LiftKgPerHour: commands.Set(20.0)})
	safe := b.bed("A3", "parsnip", 80, commands.BedInput{})
	unseen := b.bed("A4", "leek", 10, commands.BedInput{})
	b.judge(dear, due(28, 0.5))
	b.judge(cheap, due(28, 0.5))
	b.judge(safe, holds())
	p, err := b.Plan(t.Context(), b.farm)
	require.NoError(t, err)
	assert.True(t, p.CrewGiven)
	require.Len(t, p.Turns, 1)
	require.Len(t, p.Turns[0].Lifts, 1, "4 person-hours are 80 kg: the dear bed alone")
	assert.Equal(t, dear.ID, p.Turns[0].Lifts[0].BedID)
	assert.Equal(t, time.Date(2026, 11, 10, 18, 0, 0, 0, time.UTC), p.Turns[0].Start.UTC(), "12:00 in Chicago")
	require.Len(t, p.GivenUp, 1)
	assert.Equal(t, lifting.GivenUp{BedID: cheap.ID, Kg: unit.Some(80.0), Value: 40, Why: lifting.Hours}, p.GivenUp[0])
	assert.Equal(t, lifting.Saving{Value: 10, BedID: cheap.ID, Kg: 20}, p.Turns[0].HourSaves, "20 kg at 1, likely by half")
	assert.Equal(t, []int64{unseen.ID}, p.Unseen)
	assert.Equal(t, "A1 (carrot)", p.BedTitle("en", dear.ID))
}

func TestWithoutCrewHoursOnePersonIsTaken(t *testing.T) {
	b := newBench(t)
	bed := b.bed("A1", "kale-curly", 50, commands.BedInput{})
	b.judge(bed, due(28, 0.5))
	p, err := b.Plan(t.Context(), b.farm)
	require.NoError(t, err)
	assert.False(t, p.CrewGiven)
	require.Len(t, p.Turns, 2)
	for _, w := range p.Turns {
		assert.Equal(t, 1.0, w.People)
		assert.Equal(t, 4*time.Hour, w.End.Sub(w.Start))
	}
	assert.False(t, p.Beds[0].RateGiven)
	assert.Equal(t, lifting.DefaultRate("leaf"), p.Beds[0].KgPerHour, "curly kale is picked by the leaf")
	text := p.Text(speaker("en", unit.US))
	assert.Contains(t, text, "No crew hours are entered")
	assert.Contains(t, text, "No rate of lifting is given for A1")
	assert.Contains(t, text, "No store is recorded")
}

func TestAnAnsweredBedAndALostOneAreLeftOut(t *testing.T) {
	b := newBench(t)
	left, lost, late := b.bed("A1", "chard", 50, commands.BedInput{}), b.bed("A2", "chard", 50, commands.BedInput{}), b.bed("A3", "chard", 50, commands.BedInput{})
	b.judge(left, due(28, 0.5))
	b.judge(lost, farm.Verdict{State: farm.TooLate, AlreadyLost: true, Likelihood: unit.Some(1.0)})
	b.judge(late, farm.Verdict{State: farm.TooLate, Danger: unit.Some(noon.Add(10 * time.Hour)), Likelihood: unit.Some(0.8), SoldLeft: 1})
	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error {
		left.QuietUntil = unit.Some(noon.Add(24 * time.Hour))
		return tx.UpdateBed(t.Context(), left)
	}))
	p, err := b.Plan(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Equal(t, []int64{left.ID}, p.Left)
	require.Len(t, p.GivenUp, 1)
	assert.Equal(t, late.ID, p.GivenUp[0].BedID)
	assert.Equal(t, lifting.NoWindow, p.GivenUp[0].Why)
	assert.Contains(t, p.Text(speaker("es", unit.Metric)), "Se quedan en el campo por su respuesta: A1.")
}

// Room for what suits limits the plan; a farm without any such room is told so,
// and the harvest is not held back.
func TestRoomLimitsOnlyWhereThereIsASuitingRoom(t *testing.T) {
	b := newBench(t)
	cold := b.room(farm.ColdStore, 1, 100)
	b.lot(cold, "beet", "tote", 70, 0)
	carrots := b.bed("A1", "carrot", 60, commands.BedInput{PricePerKg: commands.Set(2.0), LiftKgPerHour: commands.Set(40.0)})
	tomatoes := b.bed("A2", "tomato", 60, commands.BedInput{PricePerKg: commands.Set(2.0), LiftKgPerHour: commands.Set(40.0)})
	b.judge(carrots, due(28, 1))
	b.judge(tomatoes, due(28, 1))
	p, err := b.Plan(t.Context(), b.farm)
	require.NoError(t, err)
	lifted := map[int64]float64{}
	for _, w := range p.Turns {
		for _, l := range w.Lifts {
			lifted[l.BedID] += l.Kg
		}
	}
	assert.InDelta(t, 30, lifted[carrots.ID], 1e-6, "the free 30 kg")
	assert.InDelta(t, 60, lifted[tomatoes.ID], 1e-6)
	require.Len(t, p.GivenUp, 1)
	assert.Equal(t, lifting.NoRoom, p.GivenUp[0].Why)
	assert.InDelta(t, 40, p.Rooms[0].ToteSaves.Value, 1e-6, "20 kg at 2")
	assert.Contains(t, p.Text(speaker("en", unit.US)), "No store that suits is recorded for A2")
}

func TestNothingDueIsNoPlan(t *testing.T) {
	b := newBench(t)
	b.judge(b.bed("A1", "parsnip", 80, commands.BedInput{}), holds())
	p, err := b.Plan(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Empty(t, p.Turns)
	assert.Equal(t, "No bed has a deadline.\n", p.Text(speaker("en", unit.US)))
	_, err = b.Plan(t.Context(), 999)
	assert.ErrorIs(t, err, store.ErrNotFound)
}

// A bed of unknown weight cannot be planned and is named.
func TestAnUnknownWeightIsNamed(t *testing.T) {
	b := newBench(t)
	b.judge(b.bed("A1", "carrot", -1, commands.BedInput{}), due(28, 0.5))
	p, err := b.Plan(t.Context(), b.farm)
	require.NoError(t, err)
	require.Len(t, p.GivenUp, 1)
	assert.Equal(t, lifting.NoWeight, p.GivenUp[0].Why)
	assert.Contains(t, p.Text(speaker("en", unit.US)), "A1 (carrot): not planned, its standing weight is not known.")
}
