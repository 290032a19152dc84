package plan_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/science/season"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/supply"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func (b *bench) supplied(lifted bool) plan.Supply {
	b.Helper()
	s, err := b.Supply(b.Context(), b.farm, lifted)
	require.NoError(b, err)
	return s
}

func totalOf(s plan.Supply, crop string) supply.Total {
	for _, t := range s.Totals {
		if t.Crop == crop {
			return t
		}
	}
	return supply.Total{}
}

// balanced: in every outlook what there is and regrows is used, lost, spoiled or
// left, to the gram.
func balanced(t *testing.T, s plan.Supply) {
	t.Helper()
	for _, x := range s.Totals {
		assert.InDelta(t, x.Start+x.Regrown, x.Used+x.LostStanding+x.Spoiled+x.Left, 1e-3, x.Crop)
	}
}

// A kilogram is counted once on its way from the bed through an answer into a
// lot, and out of it: what stands, is sold, spoiled or cleared adds up by hand.
func TestNoKilogramIsCountedTwice(t *testing.T) {
	b := newBench(t)
	cold := b.room(farm.ColdStore, 1, 0)
	bed := b.bed("A1", "carrot", 100, commands.BedInput{})
	b.judge(bed, holds())
	check := func(what string, kg float64) {
		s := b.supplied(false)
		balanced(t, s)
		assert.InDelta(t, kg, totalOf(s, "carrot").Start, 1e-9, what)
	}
	check("standing", 100)

	// Part of it is harvested into a room by the answer to a notice.
	id := b.notice(bed)
	answered, err := b.Answer(t.Context(), b.farm, id, 0, commands.AnswerInput{Answer: commands.Set(farm.Harvested), HarvestedKg: commands.Set(60.0), RoomID: commands.Set(cold.ID), Container: commands.Set("tote")})
	require.NoError(t, err)
	lot, ok := answered.Lot.Get()
	require.True(t, ok)
	check("harvested", 100)

	// The same answer again changes nothing.
	again, err := b.Answer(t.Context(), b.farm, id, 0, commands.AnswerInput{Answer: commands.Set(farm.Harvested), HarvestedKg: commands.Set(60.0), RoomID: commands.Set(cold.ID), Container: commands.Set("tote")})
	require.NoError(t, err)
	assert.True(t, again.Repeat)
	check("answered twice", 100)

	_, err = b.ChangeLot(t.Context(), b.farm, lot.ID, commands.Seen{}, commands.LotInput{Kg: commands.Set(45.0)})
	require.NoError(t, err)
	check("sold", 85)

	require.NoError(t, b.EndLot(t.Context(), b.farm, lot.ID, commands.Seen{}))
	check("spoiled", 40)

	require.NoError(t, b.ClearBed(t.Context(), b.farm, bed.ID, commands.Seen{}))
	check("cleared", 0)
}

// notice writes a harvest-before notice of a bed.
func (b *bench) notice(bed farm.Bed) (id int64) {
	b.Helper()
	require.NoError(b, b.store.Write(b.Context(), func(tx store.Writer) (err error) {
		id, err = tx.AddNotice(b.Context(), store.Notice{FarmID: b.farm, Subject: "bed:1", BedID: bed.ID, FieldID: bed.FieldID, Kind: notice.HarvestBefore,
			Night: "2026-11-10", IssuedAt: noon, Facts: []byte(`{}`)})
		return err
	}))
	return id
}

func TestTheForecastCountsThenTheWinter(t *testing.T) {
	b := newBench(t)
	bed := b.bed("A1", "chard", 50, commands.BedInput{})
	v := due(28, 0.4)
	v.Nights = []farm.NightRisk{{Night: "2026-11-09", Likelihood: 0}, {Night: "2026-11-10", Likelihood: 0.4}, {Night: "2026-11-18", Likelihood: 0.5}}
	v.SoldLeft = 0.9
	b.judge(bed, v)
	s := b.supplied(false)
	e := s.Beds[0]
	assert.Equal(t, unit.Some(45.0), e.Kg, "less what is lost of it by the model")
	assert.Equal(t, []supply.Chance{{Day: "2026-11-09", P: 1}, {Day: "2026-11-10", P: 1}, {Day: "2026-11-11", P: 0.6}, {Day: "2026-11-19", P: 0.5}}, e.Alive[:4])
	assert.Equal(t, plan.NormalWinter, s.Winter)
	for i := 1; i < len(e.Alive); i++ {
		assert.LessOrEqual(t, e.Alive[i].P, e.Alive[i-1].P)
	}
	assert.Less(t, e.Alive[len(e.Alive)-1].P, 0.01, "no chard stands through a winter at 45 degrees north")
}

func TestALostBedIsGoneAndAnUnknownWeightIsNamed(t *testing.T) {
	b := newBench(t)
	lost, unknown := b.bed("A1", "chard", 50, commands.BedInput{}), b.bed("A2", "chard", -1, commands.BedInput{})
	b.judge(lost, farm.Verdict{State: farm.TooLate, AlreadyLost: true, SoldLeft: 0.1, Likelihood: unit.Some(1.0)})
	b.judge(unknown, holds())
	s := b.supplied(false)
	assert.Equal(t, []int64{unknown.ID}, s.Unknown)
	assert.Equal(t, 0.0, s.Beds[0].Alive[0].P)
	chard := totalOf(s, "chard")
	assert.Equal(t, 5.0, chard.Start)
	assert.Equal(t, 5.0, chard.LostStanding)
}

// An overwintered bed gives again in spring, inside the spring gap, by the
// chance that its crown lives; its leaves of autumn are counted for themselves.
func TestOverwinteredBedsGrowAgainInSpring(t *testing.T) {
	b := newBench(t)
	b.change(commands.FarmInput{Wanted: commands.Set([]farm.Want{{Crop: "spinach", KgPerWeek: 5, From: "2026-11-01", To: "2027-06-30"}})})
	bed := b.bed("A1", "spinach", 60, commands.BedInput{Purpose: commands.Set("overwinter")})
	v := holds()
	v.Regrowth = unit.Some(0.9)
	b.judge(bed, v)
	s := b.supplied(false)
	r, ok := s.Beds[0].Regrow.Get()
	require.True(t, ok)
	assert.Equal(t, farm.Day("2027-04-21"), r.From, "1 April at 40 degrees and four days later for each degree: 44.9")
	assert.Equal(t, 30.0, r.Kg)
	assert.True(t, r.Likelihood > 0.5 && r.Likelihood < 0.9, "%v: the rest of the winter may take it yet", r.Likelihood)
	fromRegrowth := 0.0
	for _, row := range s.Rows {
		fromRegrowth += row.FromRegrowth
		assert.True(t, row.FromRegrowth == 0 || row.SpringGap)
	}
	assert.Positive(t, fromRegrowth)
	balanced(t, s)
	require.NotEmpty(t, s.Gap.Covers)
	assert.Equal(t, "spinach", s.Gap.Covers[0].Crop)
}

// With the plan carried out the kilograms lie in the rooms: as many as before,
// and they last longer.
func TestWithThePlanCarriedOut(t *testing.T) {
	b := newBench(t)
	b.room(farm.ColdStore, 1, 0)
	b.change(commands.FarmInput{Wanted: commands.Set([]farm.Want{{Crop: "carrot", KgPerWeek: 5, From: "2026-11-01", To: "2027-06-30"}})})
	bed := b.bed("A1", "carrot", 60, commands.BedInput{LiftKgPerHour: commands.Set(40.0)})
	b.judge(bed, due(28, 0.9))
	now, after := b.supplied(false), b.supplied(true)
	balanced(t, now)
	balanced(t, after)
	assert.True(t, after.Lifted)
	assert.Equal(t, totalOf(now, "carrot").Start, totalOf(after, "carrot").Start)
	assert.InDelta(t, 60, after.Rows[0].StoredKg, 1e-9)
	assert.InDelta(t, 0, after.Rows[0].StandingKg, 1e-9)
	out, _ := now.RunsOut[0].Week.Get()
	later, ok := after.RunsOut[0].Week.Get()
	require.True(t, ok)
	assert.Greater(t, later, out)
}

// Past winters, where the farm brought some, take the place of the ordinary one.
func TestPastWintersTakeThePlaceOfTheOrdinaryOne(t *testing.T) {
	b := newBench(t)
	bed, bare := b.bed("A1", "chard", 50, commands.BedInput{}), b.bed("A2", "parsley", 20, commands.BedInput{})
	b.judge(bed, holds())
	b.judge(bare, holds())
	made := plan.Season{Made: noon, Crops: []string{"chard"}, Outlook: season.Outlook{Rows: []season.Row{{Crop: "chard", Cover: "none", Winters: 40, OutBy: []season.Quantile{
		{Share: 0.1, Days: unit.Some(season.DayNumber("2026-12-01"))}, {Share: 0.5, Days: unit.Some(season.DayNumber("2026-12-31"))}, {Share: 0.9, Days: unit.Some(season.DayNumber("2027-01-20"))}}}}}}
	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error { return made.Keep(t.Context(), tx, b.farm) }))
	back, err := b.Season(t.Context(), b.farm)
	require.NoError(t, err)
	assert.True(t, back.Known())
	s := b.supplied(false)
	assert.Equal(t, plan.PastWinters, s.Winter)
	assert.Equal(t, plan.PastWinters, s.Beds[0].Winter)
	assert.Equal(t, plan.NormalWinter, s.Beds[1].Winter, "parsley was not played")
	for _, c := range s.Beds[0].Alive {
		switch {
		case c.Day <= "2026-11-19":
			assert.GreaterOrEqual(t, c.P, 0.99)
		case c.Day > "2026-12-27" && c.Day < "2027-01-04":
			assert.InDelta(t, 0.5, c.P, 0.07, c.Day)
		case c.Day > "2027-02-01":
			assert.Zero(t, c.P, c.Day)
		}
	}
	later, err := b.NotPlayed(t.Context(), b.farm, back)
	require.NoError(t, err)
	assert.Equal(t, []string{"parsley"}, later)
}
