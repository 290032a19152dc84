package page

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/unit"
)

// reader is a visit by somebody who reads metric units on Greenwich time.
func (w *world) reader() *visit { return w.site.strange(nil, mustRequest()) }

// lifts is a plan with two windows, two beds and two rooms.
func lifts() plan.Plan {
	at := func(hour int) time.Time { return time.Date(2026, 11, 16, hour, 0, 0, 0, time.UTC) }
	return plan.Plan{
		Currency: "EUR", Zone: time.UTC, CrewGiven: true,
		Beds: []plan.PlannedBed{
			{BedID: 1, Name: "A1", Crop: "carrot", Variety: "Cold Hill", Deadline: at(20), Zone: time.UTC, Likelihood: 0.4, StandingKg: unit.Some(150.0), RateGiven: true},
			{BedID: 2, Name: "B2", Crop: "spinach", Deadline: at(21), Zone: time.UTC, Likelihood: 0.9, RateGiven: true},
		},
		Stores: []plan.PlannedRoom{{RoomID: 7, Name: "Cellar"}, {RoomID: 8, Name: "Clamp"}},
		Result: lifting.Result{Exact: true, SavedValue: 123.4, LostValue: 7.6, NeutralPrice: 1.5},
	}
}

func TestAWindowOfThePlanSaysWhoLiftsWhatAndWhereto(t *testing.T) {
	w := planWriter{newWorld(t).reader(), lifts()}
	at := time.Date(2026, 11, 16, 9, 0, 0, 0, time.UTC)
	turn := lifting.Turn{Window: lifting.Window{Span: lifting.Span{Start: at, End: at.Add(3 * time.Hour)}, People: 1},
		Lifts: []lifting.Lift{
			{BedID: 1, PersonHours: 2.25, Kg: 90, Value: 54.4, Into: []lifting.Placing{{RoomID: 7, Kg: 60}, {RoomID: 8, Kg: 30}}},
			{BedID: 2, PersonHours: 0.5, Kg: 8.25, Value: 11, Into: []lifting.Placing{{RoomID: 8, Kg: 8.25}}},
		},
		FreePersonHours: 0.25, HourSaves: lifting.Saving{Value: 20.6, BedID: 2, Kg: 33}}
	assert.Equal(t, planWindow{
		People: "1", Word: "person", When: "Mon 16 Nov 09:00 UTC – 12:00 UTC",
		Lifts: []planLift{
			{1, "A1", "carrot, Cold Hill", "90 kg", "2.2 person-hours", "Cellar (60 kg), Clamp (30 kg)", "54 EUR"},
			{2, "B2", "spinach", "8.2 kg", "0.5 person-hours", "Clamp", "11 EUR"},
		},
		Spare: "0.2 person-hours left over", Hour: "One more person-hour here would save 21 EUR (33 kg of B2).",
	}, w.window(turn))

	turn.People, turn.FreePersonHours, turn.HourSaves = 2.5, 0.04, lifting.Saving{}
	two := w.window(turn)
	assert.Equal(t, []string{"2.5", "people", "", ""}, []string{two.People, two.Word, two.Spare, two.Hour}, "minutes are not worth a line, nor an hour that saves nothing")
	assert.Empty(t, w.crop(99), "a bed that is not in the plan")
}

func TestThePlansHeadSaysWhatItComesTo(t *testing.T) {
	w := planWriter{newWorld(t).reader(), lifts()}
	assert.Equal(t, "Every bed with a deadline can be lifted in time.", w.head(w.losses()))
	w.p.GivenUp = []lifting.GivenUp{{BedID: 1, Kg: unit.Some(40.0), Value: 7.6, Why: lifting.NoRoom}, {BedID: 2, Why: lifting.NoWeight}}
	lost := w.losses()
	assert.Equal(t, []planLoss{
		{1, "A1 (carrot)", "40 kg", "8 EUR", "There is no room for it in a store that suits."},
		{2, "B2 (spinach)", "", "", "B2 (spinach): not planned, its standing weight is not known."},
	}, lost)
	assert.Equal(t, "Given up: A1 (carrot) 40 kg, B2 (spinach)", w.head(lost))
	w.p.Beds, w.p.GivenUp = nil, nil
	assert.Equal(t, "No bed has a deadline.", w.head(nil))
	w.p.Unseen = []int64{3}
	assert.Equal(t, "Nothing can be planned: no bed can be judged now.", w.head(nil))
}

func TestThePlanNamesWhatHoldsItBackAndWhatItTook(t *testing.T) {
	w := planWriter{newWorld(t).reader(), lifts()}
	assert.Empty(t, w.limits())
	assert.Empty(t, w.caveats())
	w.p.Rooms = []lifting.RoomUse{{RoomID: 7, Full: true, ToteSaves: lifting.Saving{Value: 12.5, BedID: 1, Kg: 18}}, {RoomID: 8, Full: true}, {RoomID: 8}}
	assert.Equal(t, []string{"One more tote (20 kg) of room in Cellar would save 12 EUR (18 kg of A1).", "Clamp is full with this plan."}, w.limits())
	w.p.Unpriced, w.p.RoomsUnknown, w.p.Exact = []int64{1, 2}, true, false
	assert.Equal(t, []string{"No price is given for A1, B2: 1.50 EUR per kg is used in its place.", "No store is recorded, so room is taken to be enough.",
		"A simple rule was used: this may not be the best plan."}, w.caveats())
	w.p.Unpriced, w.p.Exact, w.p.Beds = nil, true, nil
	assert.Empty(t, w.caveats(), "without beds nothing is taken to have room")
}

func TestTheMassOfABedMayBeUnknown(t *testing.T) {
	w := planWriter{newWorld(t).reader(), lifts()}
	assert.Equal(t, "150 kg", w.mass(w.p.Beds[0].StandingKg))
	assert.Equal(t, "not known", w.mass(w.p.Beds[1].StandingKg))
}

// A date within 300 days needs no year.
func TestAFarDateIsSaidWithItsYear(t *testing.T) {
	v := newWorld(t).reader() // 2026-11-15
	const day = 24 * time.Hour
	for d, want := range map[time.Duration]string{
		0: "Sun 15 Nov", 300 * day: "Sat 11 Sep", 301 * day: "Sun 12 Sep 2027", -300 * day: "Mon 19 Jan", -301 * day: "Sun 18 Jan 2026",
	} {
		assert.Equal(t, want, v.date(v.now.Add(d)), d.String())
	}
}

// A bed that all can be lifted of: its value is saved and nothing is given up.
func TestAPlanThatSavesAllSaysSo(t *testing.T) {
	w := newWorld(t)
	f := w.field("North field")
	bed := w.bed(f, "B1", "carrot", 50)
	v := w.endsAt(noon.Add(26 * time.Hour))
	v.SoldLeft = 1
	w.judged(map[int64]farm.Verdict{bed.ID: v})
	page := w.grower().get("/plan").is(200)
	inOrder(t, page, "Sun 15 Nov 10:20 am CST", "Every bed with a deadline can be lifted in time.", "Saved by this plan", "Given up 0 USD",
		"Window by window", "1 person", "B1 carrot 110 lb", "What is due", "B1 carrot", "Mon 16 Nov 12:20 pm CST", "7 in 10", "110 lb",
		"Work in pairs in deep cold")
	require.NotContains(t, page.body, `id="given"`)
	require.NotContains(t, page.body, `id="limits"`)
}

func TestAPlanOfNothingHasNoFigures(t *testing.T) {
	newWorld(t).grower().get("/plan").is(200).says("No bed has a deadline.").silent("Saved by this plan", "Work in pairs", "What is due")
}
