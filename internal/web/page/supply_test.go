package page

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/supply"
	"winterstand/internal/unit"
)

// ahead is an outlook of three weeks, the last in the spring gap.
func ahead() plan.Supply {
	weeks := []supply.Week{{Start: "2026-11-15", End: "2026-11-16"}, {Start: "2026-11-16", End: "2026-11-23"}, {Start: "2026-11-23", End: "2026-11-30", Gap: true}}
	var s plan.Supply
	s.Weeks = weeks
	s.Rows = []supply.Row{
		{Crop: "carrot", Week: "2026-11-15", WantedKg: 10, FromStanding: 1, FromRegrowth: 2, FromStored: 3, ShortKg: 4, StandingKg: 50, StoredKg: 60, Enough: unit.Some(1.0)},
		{Crop: "carrot", Week: "2026-11-16", WantedKg: 10, Enough: unit.Some(0.5)},
		{Crop: "carrot", Week: "2026-11-23", WantedKg: 10, Enough: unit.Some(0.0), SpringGap: true},
		{Crop: "spinach", Week: "2026-11-15", StandingKg: 20},
		{Crop: "spinach", Week: "2026-11-23", StandingKg: 20, SpringGap: true},
	}
	return s
}

// The strip is 20 units a week; a block of 16 by 16 is certainty, standing on 16.
func TestTheStripOfAWeekIsAsHighAsItsChance(t *testing.T) {
	w := supplyWriter{newWorld(t).reader(), ahead()}
	const open = `<svg class="strip" viewBox="0 0 60 20" preserveAspectRatio="none" aria-hidden="true" focusable="false"><path d="M0 17h60v1H0z`
	assert.EqualValues(t, open+`M2 16h16v-16.0h-16zM22 16h16v-8.0h-16zM40 18h20v2h-20z"/></svg>`, w.weeksBar("carrot"))
	assert.EqualValues(t, open+`M40 18h20v2h-20z"/></svg>`, w.weeksBar("spinach"), "nothing wanted: no block")
	w.s.Weeks = w.s.Weeks[1:]
	assert.Contains(t, w.weeksBar("carrot"), `zM2 16h16v-8.0h-16zM20 18h20`, "a row of no week is not drawn")
	w.s.Weeks = nil
	assert.Empty(t, w.weeksBar("carrot"))
}

func TestWhatRunsOutIsSaidWithItsSpan(t *testing.T) {
	w := supplyWriter{newWorld(t).reader(), plan.Supply{}}
	day := func(d farm.Day) unit.Maybe[farm.Day] { return unit.Some(d) }
	for _, c := range []struct {
		name       string
		r          supply.RunsOut
		when, span string
	}{
		{"never", supply.RunsOut{}, "There is enough of it to the end.", ""},
		{"in some winters", supply.RunsOut{Early: day("2027-01-04")}, "More likely than not enough to the end.", "One in ten by Mon 4 Jan."},
		{"in most", supply.RunsOut{Early: day("2027-01-04"), Week: day("2027-02-01")}, "More likely than not short from the week of Mon 1 Feb on.", "One in ten by Mon 4 Jan."},
		{"in nearly all", supply.RunsOut{Early: day("2027-01-04"), Week: day("2027-02-01"), Late: day("2027-03-01")},
			"More likely than not short from the week of Mon 1 Feb on.", "One in ten by Mon 4 Jan, nine in ten by Mon 1 Mar."},
		{"in one week", supply.RunsOut{Early: day("2027-02-01"), Week: day("2027-02-01"), Late: day("2027-02-01")},
			"More likely than not short from the week of Mon 1 Feb on.", ""},
	} {
		c.r.Crop, c.r.Likelihood = "spinach", 0.3
		got := w.runsOut(c.r)
		assert.Equal(t, runsOut{Crop: "spinach", Chance: "Chance that it runs short at all: 3 in 10.", When: c.when, Span: c.span}, got, c.name)
	}
}

// The gap's end is exclusive; people are told its last day.
func TestTheSpringGapIsNamedByItsFirstAndLastDay(t *testing.T) {
	w := supplyWriter{newWorld(t).reader(), plan.Supply{}}
	span, bare := w.gap()
	assert.Equal(t, []string{"No week of this outlook lies in the spring gap.", ""}, []string{span, bare})
	w.s.Gap = supply.GapReport{From: "2027-03-01", To: "2027-07-01"}
	span, bare = w.gap()
	assert.Equal(t, []string{"Mon 1 Mar to Wed 30 Jun: little new is ready.", "Nothing wanted in it is more likely than not to be short."}, []string{span, bare})
	w.s.Gap.Bare = []string{"carrot", "spinach"}
	_, bare = w.gap()
	assert.Equal(t, "More likely than not short in it: carrot, spinach.", bare)
}

func TestTheWeeksOfEachCropStandTogether(t *testing.T) {
	w := supplyWriter{newWorld(t).reader(), ahead()}
	got := w.weeks()
	if assert.Len(t, got, 2) {
		assert.Equal(t, []string{"carrot", "spinach"}, []string{got[0].Crop, got[1].Crop})
		assert.Equal(t, []int{3, 2}, []int{len(got[0].Rows), len(got[1].Rows)})
		assert.Equal(t, weekRow{Week: "Sun 15 Nov", Wanted: "10 kg", Standing: "50 kg", Stored: "60 kg", FromBeds: "1.0 kg", FromRegrowth: "2.0 kg", FromStore: "3.0 kg",
			Short: "4.0 kg", Enough: "nearly certain"}, got[0].Rows[0])
		assert.True(t, got[0].Rows[2].Gap)
		assert.Equal(t, weekRow{Week: "Sun 15 Nov", Wanted: "–", Standing: "20 kg", Stored: "–", FromBeds: "–", FromRegrowth: "–", FromStore: "–", Short: "–", Enough: "–"}, got[1].Rows[0])
	}
}

func TestNextToNothingIsADash(t *testing.T) {
	w := supplyWriter{newWorld(t).reader(), plan.Supply{}}
	for kg, want := range map[float64]string{0: "–", 0.049: "–", -0.049: "–", 0.05: "0.1 kg", -0.06: "-0.1 kg"} {
		assert.Equal(t, want, w.kg(kg), "%g kg", kg)
	}
}

func TestOnlyACrownThatMayLiveIsSaidToGrowAgain(t *testing.T) {
	w := supplyWriter{newWorld(t).reader(), plan.Supply{Beds: []plan.Expectation{
		{BedID: 1, Name: "A1", Crop: "spinach", Regrow: unit.Some(plan.Regrowth{From: "2027-03-15", Kg: 12, Likelihood: 0.02})},
		{BedID: 2, Name: "A2", Crop: "spinach", Regrow: unit.Some(plan.Regrowth{From: "2027-03-15", Kg: 12, Likelihood: 0.019})},
		{BedID: 3, Name: "A3", Crop: "carrot"},
	}}}
	assert.Equal(t, []string{"A1 (spinach): about 12 kg from Mon 15 Mar on, if the crown lives (1 in 20)."}, w.regrowth())
}

func TestTheNotesSayWhatIsNotCounted(t *testing.T) {
	world := newWorld(t)
	lot := world.lot(world.stored(farm.ColdStore, 2, 100), "carrot", "tote", 60, 30)
	v := world.reader()
	v.farm.ID = world.farmID
	w := supplyWriter{v, plan.Supply{}}
	const normal = "Beyond the forecast the chances come from an ordinary winter at this latitude and height (own default)."
	if got := w.notes(); assert.Len(t, got, 1) {
		assert.Contains(t, got[0], normal)
	}
	w.s.Winter, w.s.Unknown, w.s.Unkept = plan.PastWinters, []int64{2, 3}, []int64{lot.ID, 999}
	w.s.Beds = []plan.Expectation{{BedID: 1, Name: "A1"}, {BedID: 2, Name: "A2"}, {BedID: 3, Name: "A3"}}
	got := w.notes()
	if assert.Len(t, got, 3) {
		assert.Contains(t, got[0], "from your past winters")
		assert.Equal(t, []string{"Not counted, because their standing weight is not known: A2, A3.", "Not counted, because nothing is known of how long they keep: carrot."}, got[1:])
	}
}
