package page

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/season"
	"winterstand/internal/science/skill"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/unit"
)

func TestTheScoreIsSaidInWords(t *testing.T) {
	v := newWorld(t).reader()
	assert.Equal(t, skillPage{None: true}, v.skill(skill.Report{Unknown: 4}))
	some := unit.Some[float64]
	got := v.skill(skill.Report{LossShare: 0.2, From: "2026-11-01", To: "2026-11-12", Cases: 9, Unknown: 4, Alarm: -2.2,
		Verdicts: skill.Contingency{Hits: 3, Misses: 1, FalseAlarms: 2, CorrectNegatives: 5},
		Lead:     skill.Lead{Hits: 3, Shortest: some(1.2), Median: some(30), Longest: some(72)},
		Brier: skill.Brier{Score: some(0.125), Skill: some(0.4), Table: []skill.Bin{
			{From: 0, To: 0.1, Cases: 5, Stated: some(0.04), Observed: some(0.2)}, {From: 0.1, To: 0.2}, {From: 0.9, To: 1, Cases: 4, Stated: some(0.956)}}},
		ByLead: []skill.DayScore{{LeadDays: 2, Verdicts: skill.Contingency{Hits: 4, Misses: 3, FalseAlarms: 2, CorrectNegatives: 1}}},
		Value:  skill.Comparison{Cases: 8, Events: 3, Curve: []skill.ValuePoint{{CostLoss: 0.15, Ours: some(0.7), FixedAlarm: some(-0.25)}}},
	})
	assert.Equal(t, skillPage{
		Cases: "9 verdicts of nights from Sun 1 Nov to Thu 12 Nov; 4 not scored yet.", Event: "It came: more than 20 % of the bed was lost, or would have been.",
		Counts: []Fact{{"Said so, and it came", "3"}, {"Not said, and it came", "1"}, {"Said so, and it did not come", "2"}, {"Not said, and it did not come", "5"}},
		Lead:   "72 min to 3 days, in the middle 30 h (3 verdicts).",
		Brier: []Fact{{"Brier score", "0.12. Mean squared error of the stated likelihoods: 0 is best."},
			{"Better than the average", "Against always stating the average: 0.40 (1 is perfect, 0 no better)."}},
		Reliable: []reliable{{"4 %", "20 %", "5"}, {"96 %", "–", "4"}},
		ByLead:   []leadRow{{"2", "4", "3", "2", "1", "not defined"}},
		Alarm:    "Alarm at -2.2 °C", Compared: "Compared on 8 verdicts, 3 with a loss.",
		Curve: []valueRow{{"15 %", "0.70", "-0.25", "not defined"}},
	}, got)
	assert.Equal(t, "No loss has been announced yet.", v.leadTime(skill.Lead{}))
}

func TestAPastWinterIsSaidInWords(t *testing.T) {
	v := newWorld(t).reader()
	q := func(date string) season.Quantile { return season.Quantile{Date: date} }
	assert.Equal(t, seasonRow{Crop: "carrot", Under: "low tunnel", First: "29 Feb", Half: "5 Mar", Most: "stands", Weeks: "7", Low: "-8.5 °C", Stood: "2 of 9 stood"},
		v.seasonRow(season.Row{Crop: "carrot", Cover: "low_tunnel", Winters: 9, Stood: 2, Low: unit.Some(unit.Celsius(-8.5)), Weeks: unit.Some(6.6),
			OutBy: []season.Quantile{q("02-29"), q("03-05"), {Stands: true}}}))
	assert.Equal(t, seasonRow{Crop: "carrot", Under: "no cover", First: "–", Half: "–", Most: "–", Weeks: "–", Low: "–", Stood: "0 of 0 stood"},
		v.seasonRow(season.Row{Crop: "carrot", Cover: "none"}))
}

// The notes say what of a history does not count, and whether the rest is enough.
func TestTheNotesOfAHistory(t *testing.T) {
	w := newWorld(t)
	w.bed(w.field("Top"), "B1", "spinach", 20)
	v := w.reader()
	v.farm.ID = w.farmID
	made := plan.Season{Crops: []string{"spinach"}, LeftOut: 3, Filled: 12}
	made.Rows = []season.Row{{Winters: 4, Incomplete: 2}, {Winters: 3, Incomplete: 1}}
	notes, err := v.seasonNotes(made)
	require.NoError(t, err)
	assert.Equal(t, []string{"3 older winters were left out.", "12 days had no maximum: what is usual stands in.", "2 winters with missing days do not count.",
		"Fewer than five complete winters: read it with care; the supply page does not use it."}, notes)
	made = plan.Season{}
	made.Rows = []season.Row{{Winters: 5}}
	notes, err = v.seasonNotes(made)
	require.NoError(t, err)
	assert.Equal(t, []string{"The supply page counts with these dates beyond the forecast.", "Not played, because they came later: spinach. Give the file once more."}, notes)
}

func TestTheDaysThatAreLeft(t *testing.T) {
	v := newWorld(t).reader()
	const day = 24 * time.Hour
	for d, want := range map[time.Duration]Left{-day: {"0", "days"}, 0: {"0", "days"}, day - time.Minute: {"0", "days"}, day: {"1", "day"},
		2*day - time.Minute: {"1", "day"}, 2 * day: {"2", "days"}} {
		assert.Equal(t, want, v.daysLeft(d), d.String())
	}
}

func TestALotSaysWhatEndsItAndWhen(t *testing.T) {
	v := newWorld(t).reader() // Sun 15 Nov, 16:20
	at := func(days int) time.Time { return v.now.AddDate(0, 0, days) }
	lot := plan.Lot{Lot: farm.Lot{ID: 4, Crop: "carrot", Variety: "Cold Hill", Kg: 60, Container: "tote", HarvestedAt: at(-9)},
		UseBy: keeping.UseBy{P10: at(3), P50: at(10), P90: at(20), Clock: keeping.Drying}}
	got := v.storeLot(lot, plan.Room{})
	assert.Equal(t, "carrot, Cold Hill", got.Crop)
	assert.Equal(t, "60 kg", got.Mass)
	assert.Equal(t, Left{"10", "days"}, got.Left)
	assert.False(t, got.Past || got.Unknown)
	assert.Contains(t, got.Dates, "Use by Wed 25 Nov: ")
	assert.Contains(t, got.Dates, "Sell first from Wed 18 Nov.")
	assert.Contains(t, got.Facts, "Fri 6 Nov")

	lot.UseBy.P10, lot.UseBy.P50 = at(-5), at(-1)
	got = v.storeLot(lot, plan.Room{})
	assert.True(t, got.Past)
	assert.Equal(t, Left{"0", "days"}, got.Left)
	assert.Contains(t, got.Dates, "Sell it first.")

	lot.Why = keeping.NoFigures
	got = v.storeLot(lot, plan.Room{})
	assert.True(t, got.Unknown)
	assert.Equal(t, "How long it keeps is not known.", got.Dates)
}

// A note that the room's advice gives already is not said again at the lot.
func TestANoteIsSaidOnce(t *testing.T) {
	v := newWorld(t).reader()
	dry, warm := keeping.Note{Code: keeping.TooDry, Crop: "carrot"}, keeping.Note{Code: keeping.NotCured, Crop: "carrot"}
	lot := plan.Lot{Lot: farm.Lot{Crop: "carrot", Container: "tote"}, UseBy: keeping.UseBy{P10: v.now, P50: v.now, Clock: keeping.Ageing, Notes: []keeping.Note{dry, warm}}}
	assert.Equal(t, v.note(warm), v.storeLot(lot, plan.Room{Advice: []keeping.Note{dry}}).Notes)
	assert.Equal(t, v.note(dry)+" "+v.note(warm), v.storeLot(lot, plan.Room{Advice: []keeping.Note{{Code: keeping.TooDry, Crop: "onion"}}}).Notes)
}

func TestWhatEndsALotHasAName(t *testing.T) {
	for _, c := range []struct {
		clock keeping.Clock
		room  string
		want  string
	}{{keeping.Drying, farm.Cellar, "water"}, {keeping.Frozen, farm.Freezer, "frozen"}, {keeping.Thawed, farm.Freezer, "thawed"}, {keeping.Ageing, farm.Ripening, "ripening"},
		{keeping.Ageing, farm.Cellar, "ageing"}, {keeping.Drying, farm.Ripening, "water"}} {
		assert.Equal(t, c.want, clockPhrase(plan.Lot{UseBy: keeping.UseBy{Clock: c.clock}}, plan.Room{Room: farm.Room{Kind: c.room}}))
	}
}

func TestARoomSaysItsAirWeightAndWarmth(t *testing.T) {
	v := newWorld(t).reader()
	values := func(r plan.Room) (out []string) {
		for _, f := range v.storeFacts(r) {
			out = append(out, f.Text)
		}
		return out
	}
	bare := plan.Room{Room: farm.Room{Kind: farm.Cellar, Temperature: 4}, Kg: 60, HeatW: 0.49, HeatLess: []string{"carrot"}}
	assert.Equal(t, []string{"cellar", "4.0 °C, humidity not given", "60 kg"}, values(bare), "half a watt is none")
	full := plan.Room{Room: farm.Room{Kind: farm.Cellar, Temperature: 4, Humidity: unit.Some(0.95), CapacityKg: unit.Some(100.0)}, Kg: 60, FreeKg: unit.Some(40.0), HeatW: 3.6}
	assert.Equal(t, []string{"cellar", "4.0 °C, 95 % humidity", "60 kg of 100 kg, free: 40 kg", "The lots give off about 4 W."}, values(full))
	full.HeatLess = []string{"carrot", "spinach"}
	assert.Equal(t, "The lots give off about 4 W. Not in it, because it is not known: carrot, spinach.", values(full)[3])
}

// What ends first stands first; a room with nothing to say of what it keeps is fine.
func TestTheLotsOfARoomStandByTheirEnds(t *testing.T) {
	v := newWorld(t).reader()
	lot := func(crop string, days int) plan.Lot {
		return plan.Lot{Lot: farm.Lot{Crop: crop, Container: "tote"}, UseBy: keeping.UseBy{P10: v.now, P50: v.now.AddDate(0, 0, days), Clock: keeping.Ageing}}
	}
	room := plan.Room{Room: farm.Room{ID: 3, Name: "Cellar"}, Lots: []plan.Lot{lot("carrot", 9), lot("spinach", 2), lot("beet", 5)}}
	got := v.storeRoom(room)
	assert.Equal(t, []string{"spinach", "beet", "carrot"}, []string{got.Lots[0].Crop, got.Lots[1].Crop, got.Lots[2].Crop})
	assert.True(t, got.Fine)
	assert.Equal(t, "Cellar", got.Name)
	room.Advice = []keeping.Note{{Code: keeping.TooDry, Crop: "carrot"}, {Code: keeping.NotCured, Crop: "onion", Warning: true}}
	got = v.storeRoom(room)
	assert.Equal(t, []string{v.note(room.Advice[0])}, got.Advice)
	assert.Equal(t, []string{v.note(room.Advice[1])}, got.Warnings)
	assert.False(t, got.Fine)
	room.Advice, room.Lots = nil, nil
	assert.False(t, v.storeRoom(room).Fine, "an empty room is not praised")
}

func TestTheListsOfRoomsAndLotsAddUp(t *testing.T) {
	w := newWorld(t)
	cold := w.stored(farm.ColdStore, 2, 100)
	w.stored(farm.Cellar, 6, 500)
	w.lot(cold, "carrot", "tote", 10, 3)
	w.lot(cold, "beet", "crate", 20, 4)
	g := w.grower()
	inOrder(t, g.get("/rooms").is(200), "The cold_store", "36 °F", "66 lb", "220 lb", "95 %", "The cellar", "43 °F", "0 lb", "1102 lb")
	inOrder(t, g.get("/lots").is(200), "In store: 66 lb.", "22 lb", "carrot, The cold_store", "harvested Thu 12 Nov", "44 lb", "beet, The cold_store", "harvested Wed 11 Nov")
}
