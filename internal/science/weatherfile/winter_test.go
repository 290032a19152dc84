package weatherfile

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// daily are days with -5 °C at dawn and 5 °C at most.
func daily(from, to farm.Day) (out []Day) {
	for d := from; d <= to; d = d.Add(1) {
		out = append(out, Day{Date: d, Min: unit.Some(unit.Celsius(-5)), Max: unit.Some(unit.Celsius(5))})
	}
	return out
}

// A winter is 1 August to 31 May and counts where the file holds all of it.
func TestWintersThatAFileHoldsWhole(t *testing.T) {
	assert.Equal(t, []int{2021, 2022}, Winters(daily("2021-08-01", "2023-05-31")))
	assert.Equal(t, []int{2022}, Winters(daily("2021-08-02", "2023-05-31")))
	assert.Equal(t, []int{2021}, Winters(daily("2021-08-01", "2023-05-30")))
	assert.Empty(t, Winters(nil))
}

// 304 days from 1 August to 31 May, counted by hand: 31+30+31+30+31+31+28+31+30+31.
func TestHoursOfAWinter(t *testing.T) {
	zone := time.FixedZone("CST", -6*3600)
	days := daily("2021-07-20", "2022-06-10")
	hours, missing, err := WinterHours(days, 2021, 45, -90, zone)
	require.NoError(t, err)
	assert.Zero(t, missing)
	require.Len(t, hours, 304*24)
	assert.Equal(t, "2021-08-01T06:00:00Z", hours[0].At.Format(time.RFC3339))
	assert.Equal(t, "2022-06-01T05:00:00Z", hours[len(hours)-1].At.Format(time.RFC3339))
	for _, h := range []int{0, len(hours) - 1} {
		assert.True(t, hours[h].Air.Known(), "the days beside it shape its first and last night")
	}
	// A day that lacks either is counted, once; those outside the winter are not.
	byDate := func(d farm.Day) *Day { return &days[daysBetween("2021-07-20", d)] }
	byDate("2021-12-01").Min = unit.None[unit.Celsius]()
	byDate("2022-01-15").Max = unit.None[unit.Celsius]()
	byDate("2022-05-31").Min, byDate("2022-05-31").Max = unit.None[unit.Celsius](), unit.None[unit.Celsius]()
	byDate("2021-07-31").Min, byDate("2022-06-01").Min = unit.None[unit.Celsius](), unit.None[unit.Celsius]()
	_, missing, err = WinterHours(days, 2021, 45, -90, zone)
	require.NoError(t, err)
	assert.Equal(t, 3, missing)
	// Days that the file does not have are missing too.
	_, missing, err = WinterHours(daily("2021-08-01", "2022-05-01"), 2021, 45, -90, zone)
	require.NoError(t, err)
	assert.Equal(t, 30, missing)
}
