package notice_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
)

func anyVerdict(t *rapid.T, now time.Time) farm.Verdict {
	day := now.Day()
	p := rapid.SampledFrom([]float64{0, 0.05, 0.09, 0.1, 0.15, 0.2, 0.4, 0.6, 0.95, 1}).Draw(t, "likelihood")
	var v farm.Verdict
	switch rapid.IntRange(0, 6).Draw(t, "state") {
	case 0, 1:
		v = harvest(day+rapid.IntRange(0, 6).Draw(t, "days ahead"), rapid.IntRange(0, 2).Draw(t, "nights later"), p)
		if at, _ := v.HarvestBefore.Get(); !at.After(now) {
			v = tooLate(day, p)
		}
	case 2:
		v = tooLate(day+rapid.IntRange(0, 5).Draw(t, "days ahead"), p)
	case 3:
		v = lostIn(day - rapid.IntRange(0, 3).Draw(t, "days ago"))
	case 4:
		v = unknown()
	default:
		v = holds(p)
	}
	if v.State != farm.Holds && v.State != farm.Unknown && rapid.IntRange(0, 3).Draw(t, "ground") == 0 {
		v.Cause = farm.GroundFrozen
	}
	return v
}

// Over any course of verdicts: no notice has the night, kind and revision of
// another, revisions only rise, the same verdict judged again at once tells
// nothing new of the kind it has told, no event is asked about twice, and what
// cannot be seen changes nothing but by the clock.
func TestPropertyNothingIsToldTwice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var w farm.Event
		now, issued := on(10, 0), on(9, 18)
		told, inspected := map[string]bool{}, map[string]bool{}
		last := 0
		for range rapid.IntRange(1, 120).Draw(t, "rounds") {
			now = now.Add(time.Duration(rapid.IntRange(10, 600).Draw(t, "minutes on")) * time.Minute)
			if rapid.Bool().Draw(t, "a new issue") {
				issued = now
			}
			v := seen(anyVerdict(t, now), issued)
			answered, muted := rapid.Bool().Draw(t, "answered"), rapid.IntRange(0, 9).Draw(t, "muted") == 0
			before := w
			var d *notice.Draft
			w, d = next(w, v, rules, now, answered, muted)
			if d == nil {
				require.Equal(t, before.Revision, w.Revision, "a revision without a notice")
				if v.State == farm.Unknown && before.Phase == w.Phase {
					require.Equal(t, before, w, "unknown changes nothing")
				}
				continue
			}
			key := fmt.Sprint(d.Night, d.Kind, d.Revision)
			require.False(t, told[key], "%s a second time", key)
			told[key] = true
			require.Equal(t, last+1, d.Revision, "revisions rise by one")
			require.Equal(t, d.Revision, w.Revision)
			last = d.Revision
			require.NotEmpty(t, d.Night)
			require.NotEmpty(t, d.Why)
			if d.Kind == notice.Inspect {
				require.False(t, inspected[string(d.Night)], "asked about %s twice", d.Night)
				inspected[string(d.Night)] = true
				require.False(t, now.Before(d.Night.Add(1).Noon(chicago).Add(-2*time.Hour)), "never before the night is over")
			}
			if muted {
				require.Contains(t, []notice.Kind{notice.Inspect, notice.StandDown}, d.Kind, "muted: only what ends the event")
			}
			if d.Kind == notice.StandDown || d.Kind == notice.Inspect {
				continue // the event is over; another may begin from the same verdict
			}
			again, more := next(w, v, rules, now, answered, muted)
			require.Nil(t, more, "told %s, and from the same verdict again %+v", d.Kind, more)
			require.Equal(t, w, again)
		}
	})
}

// Judged once or many times, an issue counts once: the same is told after the
// same issue.
func TestPropertyAnIssueCountsOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := on(10, 0)
		once, _ := next(farm.Event{}, seen(harvest(24, 0, 0.7), now), rules, now, false, false)
		often := once
		for range rapid.IntRange(1, 40).Draw(t, "issues") {
			now = now.Add(3 * time.Hour)
			v := holds(rapid.SampledFrom([]float64{0, 0.09, 0.1, 0.19}).Draw(t, "likelihood"))
			if rapid.Bool().Draw(t, "in sight") {
				v = harvest(rapid.IntRange(23, 27).Draw(t, "deadline"), 0, 0.7)
			}
			v = seen(v, now)
			var first, second *notice.Draft
			once, first = next(once, v, rules, now, false, false)
			often, second = next(often, v, rules, now, false, false)
			require.Equal(t, first, second)
			if first != nil && first.Kind == notice.StandDown {
				return // the event is over
			}
			for range rapid.IntRange(0, 3).Draw(t, "again") {
				var more *notice.Draft
				often, more = next(often, v, rules, now.Add(time.Minute), false, false)
				require.Nil(t, more)
			}
			require.Equal(t, once, often)
		}
	})
}
