package schedule

import (
	"context"
	"database/sql"
	"errors"
	"testing"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
)

var story = time.Date(2025, 11, 14, 18, 0, 0, 0, time.UTC)

// byStory is a queue whose application's clock stands in the story.
func byStory() *Queue[*sql.Tx] { return &Queue[*sql.Tx]{now: func() time.Time { return story }} }

// A message waits as long by the machine's clock as by the application's.
func TestAMessageIsQueuedForItsTime(t *testing.T) {
	for _, at := range []time.Time{{}, story, story.Add(-time.Hour)} {
		got := byStory().params(store.Job{MessageID: 7, At: at})
		require.Len(t, got, 1)
		assert.Equal(t, messageArgs{ID: 7}, got[0].Args)
		assert.Zero(t, got[0].InsertOpts.ScheduledAt, "at once")
		assert.Equal(t, 5, got[0].InsertOpts.MaxAttempts)
	}
	before := time.Now()
	at := byStory().params(store.Job{MessageID: 7, At: story.Add(10 * time.Minute)})[0].InsertOpts.ScheduledAt
	assert.False(t, at.Before(before.Add(10*time.Minute)) || at.After(time.Now().Add(10*time.Minute)), at)
}

// Changes that come together are judged at once and once more, three seconds
// after the span began in which they came, so that none of them is missed.
func TestACellIsJudgedNowAndOnceMore(t *testing.T) {
	for _, c := range []struct {
		job  store.Job
		kind string
	}{{store.Job{CellID: 3}, "cell"}, {store.Job{FieldID: 3}, "field"}} {
		before := time.Now()
		got := byStory().params(c.job)
		require.Len(t, got, 2)
		var burst [2]int64
		for i, p := range got {
			assert.Equal(t, c.kind, p.Args.Kind())
			assert.Equal(t, unfinished, p.InsertOpts.UniqueOpts, "what waits already is enough")
			switch a := p.Args.(type) {
			case cellArgs:
				assert.EqualValues(t, 3, a.ID)
				burst[i] = a.Burst
			case fieldArgs:
				assert.EqualValues(t, 3, a.ID)
				burst[i] = a.Burst
			}
		}
		assert.EqualValues(t, 3000, burst[1]-burst[0])
		assert.Zero(t, burst[0]%3000)
		assert.LessOrEqual(t, burst[0], before.UnixMilli())
		assert.Zero(t, got[0].InsertOpts.ScheduledAt)
		assert.Equal(t, burst[1], got[1].InsertOpts.ScheduledAt.UnixMilli())
	}
}

// A job that is done, cancelled or given up does not stand in the way of a new one.
func TestOnlyUnfinishedJobsAreUnique(t *testing.T) {
	for _, over := range []rivertype.JobState{rivertype.JobStateCompleted, rivertype.JobStateCancelled, rivertype.JobStateDiscarded} {
		assert.NotContains(t, unfinished.ByState, over)
	}
	assert.True(t, unfinished.ByArgs)
}

func TestSchedulesAreChecked(t *testing.T) {
	good := Crons{Poll: "*/5 * * * *", Sweep: "* * * * *", Daily: "0 14 * * *", Weekly: "0 14 * * 1"}
	jobs, err := good.periodic()
	require.NoError(t, err)
	assert.Len(t, jobs, 4)
	bad := good
	bad.Daily, bad.Weekly = "25 h", "every monday"
	_, err = bad.periodic()
	assert.ErrorContains(t, err, `schedule daily "25 h"`)
	assert.ErrorContains(t, err, `schedule weekly "every monday"`)
	_, err = New[*sql.Tx](nil, Options{Crons: bad})
	assert.ErrorContains(t, err, "schedule daily")
}

func TestAnErrorOfAJobNamesItsKind(t *testing.T) {
	failed := errors.New("disk")
	var did messageArgs
	w := work(func(string) func() { return func() {} }, func(_ context.Context, a messageArgs) error { did = a; return failed })
	job := &river.Job[messageArgs]{JobRow: &rivertype.JobRow{Kind: "message"}, Args: messageArgs{ID: 7}}
	err := w.Work(t.Context(), job)
	require.ErrorIs(t, err, failed)
	assert.ErrorContains(t, err, "message: disk")
	assert.Equal(t, messageArgs{ID: 7}, did)
	failed = nil
	assert.NoError(t, w.Work(t.Context(), job))
}
