package supply

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

func chicago(t testing.TB) *time.Location {
	t.Helper()
	z, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return z
}

// monday is Monday 2 November 2026, noon.
func monday(t testing.TB) time.Time { return time.Date(2026, 11, 2, 12, 0, 0, 0, chicago(t)) }

func input(t testing.TB) Input { return Input{Now: monday(t), Zone: chicago(t), Seed: 1} }

func sureBed(id int64, crop string, kg float64) Standing {
	return Standing{BedID: id, Crop: crop, Kg: unit.Some(kg)}
}

// sureLot ends on one day for certain.
func sureLot(id int64, crop string, kg float64, ends time.Time) Lot {
	return Lot{LotID: id, Crop: crop, Kg: kg, P10: ends, P50: ends, P90: ends}
}

func want(crop string, kg float64) Want { return Want{For: "market", Crop: crop, KgPerWeek: kg} }

func outlook(t testing.TB, in Input) Result {
	t.Helper()
	r, err := Outlook(in)
	require.NoError(t, err)
	return r
}

func row(t testing.TB, r Result, crop string, week farm.Day) Row {
	t.Helper()
	for _, row := range r.Rows {
		if row.Crop == crop && row.Week == week {
			return row
		}
	}
	t.Fatalf("no row of %s in the week of %s", crop, week)
	return Row{}
}

func TestASureBedRunsOutOnTheDay(t *testing.T) {
	in := input(t)
	in.Standing = []Standing{sureBed(1, "carrot", 100)}
	in.Wants = []Want{want("carrot", 10)}
	r := outlook(t, in)
	require.Len(t, r.RunsOut, 1)
	out := r.RunsOut[0]
	assert.Equal(t, unit.Some(farm.Day("2027-01-11")), out.Week, "ten weeks of 10 kg, then nothing")
	assert.Equal(t, out.Early, out.Late)
	assert.Equal(t, 1.0, out.Likelihood)
	assert.Equal(t, unit.Some(1.0), row(t, r, "carrot", "2027-01-04").Enough)
	assert.Equal(t, unit.Some(0.0), row(t, r, "carrot", "2027-01-11").Enough)
	assert.InDelta(t, 10, row(t, r, "carrot", "2027-01-11").ShortKg, 1e-9)
}

func TestAFirstWeekThatHasBegunWantsLess(t *testing.T) {
	in := input(t)
	in.Now = in.Now.AddDate(0, 0, 3) // Thursday: four days are left
	in.Wants = []Want{want("carrot", 7)}
	r := outlook(t, in)
	assert.Equal(t, farm.Day("2026-11-05"), r.Weeks[0].Start)
	assert.InDelta(t, 4, r.Rows[0].WantedKg, 1e-9)
	assert.InDelta(t, 7, r.Rows[1].WantedKg, 1e-9)
	assert.Equal(t, farm.Day("2027-06-28"), r.Weeks[len(r.Weeks)-1].Start, "to the end of June")
	assert.Equal(t, farm.Day("2027-07-01"), r.Weeks[len(r.Weeks)-1].End)
}

func TestTheDayIsThatOfTheZone(t *testing.T) {
	in := input(t)
	in.Now = time.Date(2026, 11, 2, 4, 0, 0, 0, time.UTC) // Sunday evening in Chicago
	r := outlook(t, in)
	assert.Equal(t, farm.Day("2026-11-01"), r.Weeks[0].Start)
	assert.Equal(t, farm.Day("2026-11-02"), r.Weeks[0].End)
}

func TestStandingIsWeighedByItsSurvival(t *testing.T) {
	in := input(t)
	bed := sureBed(1, "kale-curly", 200)
	bed.Alive = []Chance{{"2026-11-29", 1}, {"2026-11-30", 0.4}, {"2027-02-01", 0}}
	in.Standing = []Standing{bed}
	in.Wants = []Want{want("kale-curly", 10)}
	r := outlook(t, in)
	assert.Equal(t, unit.Some(1.0), row(t, r, "kale-curly", "2026-11-23").Enough)
	after := row(t, r, "kale-curly", "2026-11-30")
	assert.InDelta(t, 0.4, after.Enough.Else(-1), 0.005)
	assert.InDelta(t, 0.4*160, after.StandingKg, 1, "four weeks have been taken, four tenths of the rest stand")
	assert.InDelta(t, 0.4*10, after.FromStanding, 0.05)
	assert.InDelta(t, 0.6*10, after.ShortKg, 0.05)
	assert.Zero(t, row(t, r, "kale-curly", "2027-02-01").StandingKg)
	assert.Equal(t, unit.Some(farm.Day("2026-11-30")), r.RunsOut[0].Week)

	half := row(t, r, "kale-curly", "2027-01-04")
	assert.InDelta(t, 0.4*28/63, half.Enough.Else(-1), 0.01, "straight between two days")
}

func TestNothingIsTakenAfterTheBedsLastDay(t *testing.T) {
	in := input(t)
	bed := sureBed(1, "spinach", 100)
	bed.NotAfter = "2026-11-16"
	in.Standing = []Standing{bed}
	in.Wants = []Want{want("spinach", 5)}
	r := outlook(t, in)
	assert.Equal(t, 5.0, row(t, r, "spinach", "2026-11-09").FromStanding)
	assert.Zero(t, row(t, r, "spinach", "2026-11-16").FromStanding)
	assert.InDelta(t, 90, r.Totals[0].LostStanding, 1e-9)
}

func TestStoredLastsAsLongAsItsKeepingLife(t *testing.T) {
	in := input(t)
	now := in.Now
	in.Lots = []Lot{{LotID: 1, Crop: "carrot", Kg: 100, P10: now.AddDate(0, 0, 90), P50: now.AddDate(0, 0, 130), P90: now.AddDate(0, 0, 180)}}
	r := outlook(t, in)
	share := func(days int) float64 {
		return row(t, r, "carrot", farm.DayOf(now.AddDate(0, 0, days/7*7), in.Zone)).StoredKg / 100
	}
	assert.InDelta(t, 1, share(35), 0.01)
	assert.InDelta(t, 0.9, share(91), 0.04)
	assert.InDelta(t, 0.5, share(133), 0.07)
	assert.InDelta(t, 0.1, share(182), 0.04)
}

func TestALotInTheBooksIsGoodToday(t *testing.T) {
	in := input(t)
	old := in.Now.AddDate(0, 0, -30)
	in.Lots = []Lot{sureLot(1, "onion", 50, old), {LotID: 2, Crop: "leek-winter", Kg: 50, P10: old, P50: old.AddDate(0, 0, 5), P90: old.AddDate(0, 0, 10)}}
	r := outlook(t, in)
	assert.Equal(t, 50.0, row(t, r, "onion", "2026-11-02").StoredKg)
	assert.Zero(t, row(t, r, "onion", "2026-11-09").StoredKg, "but past its date it is not counted on")
	assert.Equal(t, 50.0, row(t, r, "leek-winter", "2026-11-02").StoredKg)
	assert.Less(t, row(t, r, "leek-winter", "2026-11-16").StoredKg, 5.0)
}

func TestWhatEndsFirstIsUsedFirst(t *testing.T) {
	in := input(t)
	late, early := in.Now.AddDate(0, 0, 100), in.Now.AddDate(0, 0, 20)
	in.Lots = []Lot{sureLot(1, "beet", 30, late), sureLot(2, "beet", 30, early)}
	in.Wants = []Want{want("beet", 10)}
	r := outlook(t, in)
	assert.Zero(t, r.Totals[0].Spoiled, "the early lot is gone before it spoils")
	assert.Equal(t, unit.Some(farm.Day("2026-12-14")), r.RunsOut[0].Week)

	in.Standing = []Standing{sureBed(1, "beet", 30)}
	in.Standing[0].NotAfter = "2026-11-16"
	r = outlook(t, in)
	assert.Equal(t, 10.0, row(t, r, "beet", "2026-11-02").FromStanding, "the bed ends first of all")
	assert.Equal(t, 10.0, row(t, r, "beet", "2026-11-16").FromStored)
}

func TestOutletsInTheirOrder(t *testing.T) {
	in := input(t)
	in.Standing = []Standing{sureBed(1, "carrot", 15)}
	in.Wants = []Want{
		{For: "household", Crop: "carrot", KgPerWeek: 10, To: "2026-11-08"},
		{For: "market", Crop: "carrot", KgPerWeek: 10, From: "2026-11-01", To: "2026-11-08"},
	}
	r := outlook(t, in)
	assert.Equal(t, []Share{{"household", 10, 0}, {"market", 10, 5}}, r.Rows[0].Outlets)
	assert.Empty(t, r.Rows[1].Outlets)
	assert.False(t, r.Rows[1].Enough.Known(), "none wanted")
}

// The spring gap runs from about March to June (common practice, no source).
func TestTheSpringGapIsNamedAndCovered(t *testing.T) {
	in := input(t)
	spinach := sureBed(1, "spinach", 20)
	spinach.Alive = []Chance{{"2026-12-20", 1}, {"2026-12-21", 0}} // leaves lost, crown alive
	spinach.Regrow = unit.Some(Regrowth{From: "2027-04-05", Until: "2027-05-31", Kg: 60, Likelihood: 0.8})
	in.Standing = []Standing{spinach}
	in.Lots = []Lot{sureLot(1, "carrot", 300, in.Now.AddDate(0, 0, 170))}
	in.Wants = []Want{want("spinach", 5), want("carrot", 10), want("lettuce-small", 3)}
	r := outlook(t, in)

	assert.Equal(t, farm.Day("2027-03-01"), r.Gap.From)
	assert.Equal(t, farm.Day("2027-07-01"), r.Gap.To)
	for _, w := range r.Weeks {
		m := w.Start.Noon(time.UTC).Month()
		assert.Equal(t, m >= time.March && m <= time.June, w.Gap, w.Start)
	}
	april := row(t, r, "spinach", "2027-04-05")
	assert.True(t, april.SpringGap)
	assert.InDelta(t, 0.8*5, april.FromRegrowth, 0.05)
	assert.InDelta(t, 0.8, april.Enough.Else(-1), 0.01)
	assert.Zero(t, row(t, r, "spinach", "2027-03-29").FromRegrowth)
	assert.Zero(t, row(t, r, "spinach", "2027-05-31").StandingKg, "bolted")

	var crops []string
	for _, c := range r.Gap.Covers {
		crops = append(crops, c.Crop)
	}
	assert.Equal(t, []string{"carrot", "spinach"}, crops)
	assert.Equal(t, []string{"carrot", "lettuce-small", "spinach"}, r.Gap.Bare, "each is short in some week of it")
}

func TestTheGapOfTheSouth(t *testing.T) {
	assert.Equal(t, SouthernGap, GapAt(-43))
	assert.Equal(t, NorthernGap, GapAt(46))
	in := input(t)
	in.Gap = SouthernGap
	in.Now = time.Date(2026, 5, 4, 12, 0, 0, 0, in.Zone)
	r := outlook(t, in)
	assert.Equal(t, farm.Day("2026-08-31"), r.Weeks[17].Start)
	assert.Equal(t, farm.Day("2026-09-07"), r.Gap.From, "a week belongs to the month it starts in")
	assert.Equal(t, farm.Day("2027-01-01"), r.Gap.To)
	in.Until = "2026-06-30"
	assert.Empty(t, outlook(t, in).Gap.From, "no week of it in view")
}

func TestUnknownWeightIsNamedNotZero(t *testing.T) {
	in := input(t)
	in.Standing = []Standing{{BedID: 9, Crop: "chard"}}
	r := outlook(t, in)
	assert.Equal(t, []int64{9}, r.Unknown)
}

func TestBedsShareTheWinter(t *testing.T) {
	in := input(t)
	for i := range 4 {
		b := sureBed(int64(i+1), "kale-curly", 100)
		b.Alive = []Chance{{"2026-11-08", 1}, {"2026-11-09", 0.5}}
		in.Standing = append(in.Standing, b)
	}
	in.Wants = []Want{{Crop: "kale-curly", KgPerWeek: 1}}
	r := outlook(t, in)
	enough := row(t, r, "kale-curly", "2026-11-09").Enough.Else(-1)
	// Were they independent, one of four would stand in 15 of 16 winters.
	assert.Less(t, enough, 0.85)
	assert.Greater(t, enough, 0.55)
}

func TestTheSameInputGivesTheSameOutlook(t *testing.T) {
	in := input(t)
	in.Standing = []Standing{sureBed(1, "kale-curly", 100)}
	in.Standing[0].Alive = []Chance{{"2026-11-02", 1}, {"2027-03-01", 0}}
	in.Lots = []Lot{{LotID: 1, Crop: "kale-curly", Kg: 10, P10: in.Now, P50: in.Now.AddDate(0, 0, 9), P90: in.Now.AddDate(0, 0, 20)}}
	in.Wants = []Want{want("kale-curly", 6)}
	a, b := outlook(t, in), outlook(t, in)
	assert.Equal(t, a, b)
	in.Seed = 2
	c := outlook(t, in)
	for n := range a.Rows {
		assert.InDelta(t, a.Rows[n].Enough.Else(0), c.Rows[n].Enough.Else(0), 0.08, "another seed tells nearly the same")
	}
}

func TestOutlookRefusesNonsense(t *testing.T) {
	good := input(t)
	for want, change := range map[string]func(*Input){
		"zone":  func(in *Input) { in.Zone = nil },
		"bed 1": func(in *Input) { in.Standing = []Standing{sureBed(1, "x", -1)} },
		"bed 2": func(in *Input) {
			in.Standing = []Standing{{BedID: 2, Alive: []Chance{{"2026-11-09", 0.2}, {"2026-11-10", 0.3}}}}
		},
		"bed 3":  func(in *Input) { in.Standing = []Standing{{BedID: 3, Regrow: unit.Some(Regrowth{Likelihood: 2})}} },
		"lot 4":  func(in *Input) { in.Lots = []Lot{{LotID: 4, P10: in.Now, P50: in.Now.Add(-time.Hour)}} },
		"wanted": func(in *Input) { in.Wants = []Want{{Crop: "x", KgPerWeek: 1, From: "2026-11-09", To: "2026-11-01"}} },
	} {
		in := good
		change(&in)
		_, err := Outlook(in)
		assert.ErrorContains(t, err, want)
	}
}

func TestCSV(t *testing.T) {
	in := input(t)
	in.Standing = []Standing{sureBed(1, "carrot", 100)}
	in.Wants = []Want{want("carrot", 10)}
	in.Lots = []Lot{sureLot(1, "onion", 20, in.Now.AddDate(0, 0, 200))}
	r := outlook(t, in)
	var out bytes.Buffer
	require.NoError(t, WriteCSV(&out, r))
	lines, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	require.Len(t, lines, len(r.Rows)+1)
	assert.Equal(t, header, lines[0])
	total := 0.0
	for _, line := range lines[1:] {
		kg, err := strconv.ParseFloat(line[3], 64)
		require.NoError(t, err)
		total += kg
		if line[1] == "onion" {
			assert.Empty(t, line[7], "no likelihood where none is wanted")
		}
	}
	assert.InDelta(t, 100, total, 0.5)
	assert.ErrorContains(t, WriteCSV(full{}, r), "write supply")
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, assert.AnError }
