package farm

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func TestParseDay(t *testing.T) {
	d, err := ParseDay("2024-02-29")
	require.NoError(t, err)
	assert.Equal(t, Day("2024-02-29"), d)
	for _, wrong := range []string{"", "2025-02-29", "14 Nov 2026", "2026-11-14T00:00:00Z", "2026-1-4"} {
		_, err := ParseDay(wrong)
		assert.ErrorContains(t, err, "must be a calendar date", wrong)
	}
}

func TestDaysGoByTheCalendar(t *testing.T) {
	assert.Equal(t, Day("2024-02-29"), Day("2024-02-28").Add(1))
	assert.Equal(t, Day("2025-12-31"), Day("2026-01-01").Add(-1))
	assert.Equal(t, Day(""), Day("").Add(1), "no day has no next one")
	assert.Zero(t, Day("soon").Noon(time.UTC))
}

// A night is named by the evening that begins it, and turns at local noon: also
// where a day has 23 hours or 25, or where its own clock skips midnight.
func TestANightIsNamedByItsEvening(t *testing.T) {
	for _, c := range []struct {
		at, zone string
		night    Day
	}{
		{"2025-11-14T17:59:59Z", "America/Chicago", "2025-11-13"}, // 11:59:59
		{"2025-11-14T18:00:00Z", "America/Chicago", "2025-11-14"}, // noon
		{"2025-11-15T06:30:00Z", "America/Chicago", "2025-11-14"}, // after midnight
		{"2025-03-09T08:30:00Z", "America/Chicago", "2025-03-08"}, // 3:30, in a day that skips 2:30
		{"2025-03-10T07:30:00Z", "America/Chicago", "2025-03-09"}, // 2:30, which the day before did not have
		{"2025-11-02T17:59:00Z", "America/Chicago", "2025-11-01"}, // 25 hours: noon is at 18 UTC
		{"2025-11-14T00:30:00Z", "Pacific/Kiritimati", "2025-11-14"},
	} {
		at, err := time.Parse(time.RFC3339, c.at)
		require.NoError(t, err)
		assert.Equal(t, c.night, NightOf(at, zone(t, c.zone)), c.at)
	}
}

func TestNoonAndStartOfADay(t *testing.T) {
	chicago := zone(t, "America/Chicago")
	assert.Equal(t, "2025-11-14T18:00:00Z", Day("2025-11-14").Noon(chicago).UTC().Format(time.RFC3339))
	assert.Equal(t, "2025-11-14T06:00:00Z", Day("2025-11-14").Start(chicago).UTC().Format(time.RFC3339))
	assert.Equal(t, 23*time.Hour, Day("2025-03-10").Start(chicago).Sub(Day("2025-03-09").Start(chicago)))
	assert.Equal(t, Day("2025-11-14"), DayOf(time.Date(2025, 11, 15, 5, 59, 0, 0, time.UTC), chicago))
	assert.Equal(t, Day("2025-11-15"), DayOf(time.Date(2025, 11, 15, 6, 0, 0, 0, time.UTC), chicago))
}

// In Chile the clock goes from 24 h on Saturday to 1 h on Sunday: that day begins
// with its 1 h, at 4 h UTC, and not in the day before.
func TestADayWithoutAMidnight(t *testing.T) {
	chile := zone(t, "America/Santiago")
	start := Day("2024-09-08").Start(chile)
	assert.Equal(t, "2024-09-08T04:00:00Z", start.UTC().Format(time.RFC3339))
	assert.Equal(t, Day("2024-09-08"), DayOf(start, chile))
	assert.Equal(t, Day("2024-09-07"), DayOf(start.Add(-time.Second), chile))
}

// In Cuba the clock goes from 1 h back to 0 h: the day begins with the first 0 h,
// at 4 h UTC.
func TestADayWithTwoMidnights(t *testing.T) {
	assert.Equal(t, "2024-11-03T04:00:00Z", Day("2024-11-03").Start(zone(t, "America/Havana")).UTC().Format(time.RFC3339))
	assert.Zero(t, Day("soon").Start(time.UTC))
}
