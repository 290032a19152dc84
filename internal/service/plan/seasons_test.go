package plan_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/store"
)

// winters is a daily history around a yearly wave.
func winters(from, to int) []byte {
	var b strings.Builder
	b.WriteString("date,tmin_c,tmax_c,precip_mm,snow_depth_cm\n")
	for d := time.Date(from, 7, 1, 0, 0, 0, 0, time.UTC); d.Before(time.Date(to, 7, 1, 0, 0, 0, 0, time.UTC)); d = d.AddDate(0, 0, 1) {
		mean := 7 - 16*math.Cos(2*math.Pi*float64(d.YearDay()-20)/365) + float64(d.Year()%3)
		fmt.Fprintf(&b, "%s,%.1f,%.1f,0,0\n", d.Format(time.DateOnly), mean-5, mean+5)
	}
	return []byte(b.String())
}

func TestLookingBackOverTheFarmsCrops(t *testing.T) {
	b := newBench(t)
	b.bed("A1", "tomato", 50, commands.BedInput{})
	b.bed("A2", "spinach", 50, commands.BedInput{Covers: commands.Set([]farm.Cover{{Kind: "low_tunnel_fabric", On: "2026-11-01"}})})
	b.change(commands.FarmInput{Wanted: commands.Set([]farm.Want{{Crop: "chard", KgPerWeek: 5, From: "2026-11-01", To: "2027-01-01"}})})
	s, err := b.LookBack(t.Context(), b.farm, 0, "hill.csv", winters(2018, 2024))
	require.NoError(t, err)
	assert.Equal(t, []string{"chard", "spinach", "tomato"}, s.Crops)
	assert.Equal(t, 2018, s.From)
	assert.Equal(t, 2023, s.To)
	assert.Equal(t, b.field.ID, s.FieldID)
	assert.Len(t, s.Rows, 6, "bare and under the farm's cover")
	assert.Equal(t, "tomato", s.Rows[0].Crop, "it has to be out first")
	assert.Equal(t, 6, s.Rows[0].Winters)
	days := map[string]int{}
	for _, r := range s.Rows {
		days[r.Crop+" "+r.Cover] = r.OutBy[1].Days.Else(1000)
	}
	assert.Less(t, days["tomato none"], days["chard none"])
	assert.Less(t, days["chard none"], days["spinach none"])
	assert.LessOrEqual(t, days["spinach none"], days["spinach low_tunnel_fabric"])

	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error { return s.Keep(t.Context(), tx, b.farm) }))
	back, err := b.Season(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Equal(t, s.Rows, back.Rows)
	assert.Equal(t, plan.PastWinters, b.supplied(false).Winter, "six winters are enough")
}

func TestHistoriesThatCannotBeUsed(t *testing.T) {
	b := newBench(t)
	_, err := b.LookBack(t.Context(), b.farm, 0, "hill.csv", winters(2020, 2022))
	assert.ErrorIs(t, err, plan.ErrNoCrops)
	b.bed("A1", "tomato", 50, commands.BedInput{})
	_, err = b.LookBack(t.Context(), b.farm, 0, "short.csv", []byte("date,tmin_c,tmax_c\n2024-01-01,-3,4\n"))
	var bad *plan.BadHistory
	require.ErrorAs(t, err, &bad)
	assert.Equal(t, "history.short", bad.Why.Key)
	assert.ErrorContains(t, err, "short.csv")
	_, err = b.LookBack(t.Context(), b.farm, 0, "hill.csv.gz", []byte("\x1f\x8b"))
	require.ErrorAs(t, err, &bad)
	assert.Equal(t, "history.packed", bad.Why.Key)
	var fault *weatherfile.Fault
	_, err = b.LookBack(t.Context(), b.farm, 0, "words.csv", []byte("date,tmin_c,tmax_c\n2024-01-01,low,1\n"))
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, 2, fault.Line)
	assert.EqualError(t, err, "words.csv line 2, column tmin_c: “low” is not a number; write one like 12.5, or leave the cell empty where it is missing")
	_, err = b.LookBack(t.Context(), b.farm, 99, "hill.csv", winters(2020, 2022))
	assert.ErrorIs(t, err, store.ErrNotFound)
	s, err := b.Season(t.Context(), b.farm)
	require.NoError(t, err)
	assert.False(t, s.Known(), "nothing was kept")
}

func TestOnlyTheNewestWintersArePlayedAndAnEndIsHeeded(t *testing.T) {
	b := newBench(t)
	b.bed("A1", "tomato", 50, commands.BedInput{})
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := b.LookBack(ended, b.farm, 0, "hill.csv", winters(2020, 2022))
	assert.ErrorIs(t, err, context.Canceled)
	s, err := b.LookBack(t.Context(), b.farm, b.field.ID, "long.csv", winters(1950, 2016))
	require.NoError(t, err)
	assert.Equal(t, 66-plan.MostWinters, s.LeftOut)
	assert.Equal(t, 2015, s.To)
}

// Hours are cut into winters as days are; a day with a hole is a missing day.
func TestAnHourlyHistory(t *testing.T) {
	b := newBench(t)
	b.bed("A1", "tomato", 50, commands.BedInput{})
	var text strings.Builder
	text.WriteString("time,air_c\n")
	for at := time.Date(2022, 8, 1, 0, 0, 0, 0, time.UTC); at.Before(time.Date(2023, 6, 2, 12, 0, 0, 0, time.UTC)); at = at.Add(time.Hour) {
		air := fmt.Sprintf("%.1f", 7-16*math.Cos(2*math.Pi*float64(at.YearDay()-20)/365)-5*math.Cos(2*math.Pi*float64(at.Hour()-3)/24))
		if at.Month() == time.May && at.Day() == 5 {
			air = ""
		}
		fmt.Fprintf(&text, "%s,%s\n", at.Format(time.RFC3339), air)
	}
	s, err := b.LookBack(t.Context(), b.farm, 0, "hours.csv", []byte(text.String()))
	require.NoError(t, err)
	assert.Equal(t, 2022, s.From)
	require.Len(t, s.Rows, 1)
	assert.Equal(t, 1, s.Rows[0].Incomplete, "a winter with a hole does not count")
	assert.Positive(t, s.Winters[0].MissingDays)
}
