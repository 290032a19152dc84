package app_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/notice"
)

func TestAnEarlierDeadlineIsToldAtOnceALaterOneAfterTwoIssues(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	first := w.round().Notices
	require.Equal(t, []string{notice.HarvestBefore}, kinds(first))

	w.sky.day("2025-11-05", -1)
	w.sky.night("2025-11-05", -14)
	w.sky.day("2025-11-06", -1)
	w.clock.Add(time.Hour)
	nearer := w.round().Notices
	require.Equal(t, []string{notice.Moved}, kinds(nearer))
	assert.True(t, nearer[0].HarvestBefore.Else(farOff).Before(first[0].HarvestBefore.Else(farOff).Add(-24*time.Hour)))
	assert.Contains(t, w.lastMail().Subject, "EARLIER")

	w.sky.day("2025-11-05", 8)
	w.sky.night("2025-11-05", 0)
	w.sky.day("2025-11-06", 8)
	w.clock.Add(time.Hour)
	assert.Empty(t, w.round().Notices, "one issue is not enough to move it away")
	assert.Empty(t, w.round().Notices, "nor is the same issue judged twice")
	w.clock.Add(time.Hour)
	later := w.round().Notices
	require.Equal(t, []string{notice.Moved}, kinds(later))
	assert.Contains(t, w.lastMail().Subject, "Later")
	assert.Len(t, w.caught.Mails(), 3)
}

func TestADangerThatGoesIsStoodDownAfterTwoIssues(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.round()
	w.sky.day("2025-11-07", 8)
	w.sky.night("2025-11-07", 0)
	w.sky.day("2025-11-08", 8)
	w.clock.Add(time.Hour)
	require.Empty(t, w.round().Notices)
	w.clock.Add(10 * time.Minute)
	require.Empty(t, w.round().Notices, "the same issue")
	w.clock.Add(time.Hour)
	gone := w.round().Notices
	require.Equal(t, []string{notice.StandDown}, kinds(gone))
	assert.Contains(t, w.lastMail().Subject, "A1 (chard) can stand")
	assert.Empty(t, w.until(w.local("2025-11-05 12:00"), 6*time.Hour), "and silence after it")
}
