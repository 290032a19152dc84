package lifting

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
)

func zone(t *testing.T) *time.Location {
	z, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return z
}

func TestWindowsOfTheWeek(t *testing.T) {
	z := zone(t)
	shifts := []farm.Shift{
		{Day: "tue", From: "08:00", To: "12:00", People: 2},
		{Day: "mon", From: "13:00", To: "16:30", People: 1},
	}
	from := time.Date(2026, 11, 9, 14, 0, 0, 0, z) // a Monday, within the shift
	got, err := Windows(shifts, z, from, from.AddDate(0, 0, 8))
	require.NoError(t, err)
	require.Len(t, got, 4)
	assert.Equal(t, from, got[0].Start, "a shift that has begun counts from now")
	assert.Equal(t, 2.5, got[0].End.Sub(got[0].Start).Hours())
	assert.Equal(t, 2.0, got[1].People)
	assert.Equal(t, time.Date(2026, 11, 10, 8, 0, 0, 0, z), got[1].Start)
	assert.Equal(t, time.Date(2026, 11, 17, 8, 0, 0, 0, z), got[3].Start)
}

// In most of the United States clocks go back on the first Sunday of November
// (1 November 2026) at 2:00; a shift over it is an hour longer than the clock says.
func TestWindowsOnTheDayTheClocksChange(t *testing.T) {
	z := zone(t)
	from := time.Date(2026, 10, 31, 0, 0, 0, 0, z)
	shifts := []farm.Shift{{Day: "sat", From: "00:30", To: "04:30", People: 1}, {Day: "sun", From: "00:30", To: "04:30", People: 1}}
	got, err := Windows(shifts, z, from, from.AddDate(0, 0, 3))
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, 4.0, got[0].End.Sub(got[0].Start).Hours())
	assert.Equal(t, 5.0, got[1].End.Sub(got[1].Start).Hours())
}

func TestWindowsRefusesNonsense(t *testing.T) {
	from := time.Date(2026, 11, 9, 0, 0, 0, 0, time.UTC)
	for want, s := range map[string]farm.Shift{
		"must be mon":    {Day: "monday", From: "08:00", To: "12:00", People: 1},
		"like 08:30":     {Day: "mon", From: "8", To: "12:00", People: 1},
		"later the same": {Day: "mon", From: "18:00", To: "06:00", People: 1},
		"0 people":       {Day: "mon", From: "08:00", To: "12:00", People: -1},
	} {
		_, err := Windows([]farm.Shift{s}, time.UTC, from, from.AddDate(0, 0, 7))
		assert.ErrorContains(t, err, want)
		assert.ErrorContains(t, err, "crew entry 1")
	}
}

func TestDefaultRates(t *testing.T) {
	assert.Greater(t, DefaultRate("root"), DefaultRate("leaf"), "a root is heavier than a leaf")
	assert.Equal(t, DefaultRate("herb"), DefaultRate("moss"))
}
