package season

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

func TestDayNumbers(t *testing.T) {
	for day, want := range map[farm.Day]int{
		"2025-08-01": 0, "2025-08-31": 30, "2025-10-01": 61, "2025-12-31": 152,
		"2026-01-01": 153, "2026-02-28": 211, "2024-02-29": 212, "2026-03-01": 213, "2024-03-01": 213, "2026-05-31": 304,
	} {
		assert.Equal(t, want, DayNumber(day), day)
		assert.Equal(t, string(day)[5:], DateOf(want))
	}
}

func out(year int, by farm.Day) Outcome {
	return Outcome{Winter: year, Crop: "chard", Cover: "none", State: Out, By: unit.Some(by), Low: unit.Some(unit.Celsius(-7)), FirstFrost: unit.Some(by.Add(-21))}
}

func stood(year int) Outcome {
	return Outcome{Winter: year, Crop: "chard", Cover: "none", State: Stood, FirstFrost: unit.Some(End(year).Add(-1 - 70))}
}

// By hand: ten winters, seven of them out on 1 to 7 November, three stood. One
// in ten is the first, five in ten the fifth, nine in ten needs one that stood.
func TestQuantilesWithWintersThatStood(t *testing.T) {
	var all []Outcome
	for i := range 7 {
		all = append(all, out(2000+i, First(2000+i).Add(92+6-i)))
	}
	all = append(all, stood(2007), stood(2008), stood(2009))
	rows := Summarise(all).Rows
	require.Len(t, rows, 1)
	r := rows[0]
	assert.Equal(t, 10, r.Winters)
	assert.Equal(t, 3, r.Stood)
	assert.Equal(t, []Quantile{
		{Share: 0.1, Days: unit.Some(92), Date: "11-01"},
		{Share: 0.5, Days: unit.Some(96), Date: "11-05"},
		{Share: 0.9, Stands: true},
	}, r.OutBy)
	assert.Equal(t, unit.Some(3.0), r.Weeks, "seven of three weeks, three of ten")
	assert.Equal(t, unit.Some(unit.Celsius(-7)), r.Low)
}

func TestWintersWithMissingDaysDoNotCount(t *testing.T) {
	early := out(2001, "2001-10-01")
	early.MissingDays = 4 // lost before the hole, yet its like that stood would be unknown
	blind := Outcome{Winter: 2002, Crop: "chard", Cover: "none", State: Incomplete, MissingDays: 30}
	o := Summarise([]Outcome{early, blind, out(2003, "2003-11-20")})
	r := o.Rows[0]
	assert.Equal(t, 1, r.Winters)
	assert.Equal(t, 2, r.Incomplete)
	assert.Equal(t, "11-20", r.OutBy[0].Date)
	text := o.Text(unit.US, nil)
	assert.Contains(t, text, "Winter 2001/02 is incomplete, 4 missing days: not counted.")
	assert.Contains(t, text, "Winter 2002/03 is incomplete, 30 missing days: not counted.")

	none := Summarise([]Outcome{blind})
	assert.Empty(t, none.Rows[0].OutBy)
	assert.False(t, none.Rows[0].Weeks.Known())
}

func TestNoticesOfAWinter(t *testing.T) {
	second, third, fourth := out(2003, "2003-11-20"), out(2003, "2003-11-21"), stood(2003)
	second.Crop, third.Crop, fourth.Crop = "kale", "leek", "garlic"
	o := Summarise([]Outcome{out(2003, "2003-11-20"), second, third, fourth})
	assert.Equal(t, []Counted{{Winter: 2003, Cover: "none", Notices: 3, Days: 2}}, o.Winters)
	assert.Equal(t, []string{"chard", "kale", "leek", "garlic"}, []string{o.Rows[0].Crop, o.Rows[1].Crop, o.Rows[2].Crop, o.Rows[3].Crop})
}

// A covered bed has its own rows and counts, beside the bare bed of the crop.
func TestCoversAreCountedApart(t *testing.T) {
	covered := out(2003, "2003-12-20")
	covered.Cover, covered.MulchCm = "low_tunnel", 10
	kale := out(2003, "2003-12-01")
	kale.Crop = "kale"
	o := Summarise([]Outcome{covered, kale, out(2003, "2003-11-20")})
	require.Len(t, o.Rows, 3)
	assert.Equal(t, []string{"chard none", "chard low_tunnel", "kale none"}, []string{o.Rows[0].Crop + " " + o.Rows[0].Cover, o.Rows[1].Crop + " " + o.Rows[1].Cover, o.Rows[2].Crop + " " + o.Rows[2].Cover})
	assert.Equal(t, []Counted{{Winter: 2003, Cover: "none", Notices: 2, Days: 2}, {Winter: 2003, Cover: "low_tunnel", MulchCm: 10, Notices: 1, Days: 1}}, o.Winters)
	text := o.Text(unit.Metric, nil)
	assert.Contains(t, text, "  over it none                                2.0 on  2.0 days")
	assert.Contains(t, text, "  over it low tunnel, straw 10 cm             1.0 on  1.0 days")
	assert.Contains(t, text, "Complete winters: 1.")
}

func TestQuantilesAreInOrderAndNotAfterALaterSeries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all, later []Outcome
		for i := range rapid.IntRange(1, 40).Draw(t, "winters") {
			year := 1950 + i
			if rapid.IntRange(0, 4).Draw(t, "stood") == 0 {
				all, later = append(all, stood(year)), append(later, stood(year))
				continue
			}
			day := rapid.IntRange(30, 280).Draw(t, "day")
			all = append(all, out(year, First(year).Add(day)))
			later = append(later, out(year, First(year).Add(day+rapid.IntRange(0, 20).Draw(t, "more"))))
		}
		a, b := Summarise(all).Rows[0], Summarise(later).Rows[0]
		for i := range Shares {
			assert.LessOrEqual(t, a.at(i), b.at(i))
			assert.True(t, i == 0 || a.at(i-1) <= a.at(i))
		}
		by := 0 // the definition, counted: at least that share is out by that day
		if q := a.OutBy[1]; !q.Stands {
			for _, o := range all {
				if d, ok := o.By.Get(); ok && DayNumber(d) <= q.Days.Else(-1) {
					by++
				}
			}
			assert.GreaterOrEqual(t, 2*by, len(all))
		}
	})
}

func TestTextFitsEightyColumns(t *testing.T) {
	long := out(2003, "2003-11-20")
	long.Crop, long.Cover, long.MulchCm = "a-crop-with-quite-a-long-name", "high_tunnel_fabric", 20
	for _, units := range []unit.System{unit.US, unit.Metric} {
		text := Summarise([]Outcome{long, stood(2003), {Winter: 2004, Crop: "chard", State: Incomplete, MissingDays: 300}}).Text(units, strings.ToUpper)
		for _, line := range strings.Split(text, "\n") {
			assert.LessOrEqual(t, len([]rune(line)), 80, line)
		}
		assert.Contains(t, text, "20 Nov")
		assert.Contains(t, text, "stands")
		assert.Contains(t, text, "CHARD")
	}
	assert.Contains(t, Outlook{}.Text(unit.US, nil), "No winter")
}

func TestJSONShape(t *testing.T) {
	b, err := json.Marshal(Summarise([]Outcome{stood(2003), out(2004, "2004-08-01")}))
	require.NoError(t, err)
	var got map[string]any
	require.NoError(t, json.Unmarshal(b, &got))
	row := got["rows"].([]any)[0].(map[string]any)
	first := row["out_by"].([]any)[0].(map[string]any)
	assert.Equal(t, map[string]any{"share": 0.1, "days_since_1_august": 0.0, "date": "08-01", "stands": false}, first)
	last := row["out_by"].([]any)[2].(map[string]any)
	assert.Equal(t, map[string]any{"share": 0.9, "days_since_1_august": nil, "stands": true}, last)
}

// Winters come in the order of their years, not of what they brought.
func TestTheMiddleOfTheWintersIsThatOfTheirValues(t *testing.T) {
	assert.Equal(t, unit.Some(3.0), median([]float64{6, 1, 3}))
	assert.Equal(t, unit.Some(2.0), median([]float64{6, 1, 3, 0}), "between the two in the middle")
	assert.False(t, median(nil).Known())
}
