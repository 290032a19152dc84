package notice_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/unit"
)

// step is one judging of a bed and what must come of it.
type step struct {
	at       time.Time
	v        farm.Verdict
	issued   int // hour of the 10th to which the forecast is counted; an issue that is judged again has the same
	answered bool
	muted    bool

	want     notice.Kind // "": nothing
	night    int         // of it
	revision int
	before   time.Time // zero: none
	why      notice.Reason
}

func play(t *testing.T, name string, steps []step) farm.Event {
	var w farm.Event
	for i, s := range steps {
		v := seen(s.v, on(10, 0).Add(time.Duration(s.issued)*time.Hour))
		got, d := next(w, v, rules, s.at, s.answered, s.muted)
		again, second := next(got, v, rules, s.at, s.answered, s.muted)
		if s.want == "" {
			require.Nil(t, d, "%s, step %d: %+v", name, i, d)
		} else {
			require.NotNil(t, d, "%s, step %d: nothing was told", name, i)
			require.Equal(t, s.want, d.Kind, "%s, step %d", name, i)
			require.Equal(t, nightOf(s.night), d.Night, "%s, step %d", name, i)
			require.Equal(t, s.revision, d.Revision, "%s, step %d", name, i)
			before, _ := d.Before.Get()
			require.Equal(t, s.before.UTC(), before.UTC(), "%s, step %d", name, i)
			if s.why != "" {
				require.Equal(t, s.why, d.Why, "%s, step %d", name, i)
			}
			if s.want != notice.Inspect && s.want != notice.StandDown { // these end the event; another may begin
				require.Nil(t, second, "%s, step %d: told twice from one verdict", name, i)
			}
		}
		w = through(t, got)
		_ = again
	}
	return w
}

// through is the watch after it was stored and read again.
func through(t *testing.T, w farm.Event) farm.Event {
	body, err := json.Marshal(w)
	require.NoError(t, err)
	var back farm.Event
	require.NoError(t, json.Unmarshal(body, &back))
	return back
}

func TestWhenABedIsTold(t *testing.T) {
	one := harvest(19, 0, 0.3)
	one.Windows = one.Windows[len(one.Windows)-1:]
	cut := harvest(19, 0, 0.3)
	cut.HarvestBefore, cut.LastWindow = unit.Some(on(19, 13)), unit.Some(farm.Window{Start: on(19, 8), End: on(19, 13)})
	for _, c := range []struct {
		name string
		at   time.Time
		v    farm.Verdict
		why  notice.Reason // "": not told
	}{
		{"holds", on(12, 9), holds(0.1), ""},
		{"far off and not likely: waiting costs nothing", on(12, 9), harvest(19, 0, 0.3), ""},
		{"an hour beyond the lead", on(16, 15), harvest(19, 0, 0.3), ""},
		{"at the lead", on(16, 16), harvest(19, 0, 0.3), notice.WithinLead},
		{"within it", on(17, 9), harvest(19, 0, 0.3), notice.WithinLead},
		{"likely enough, however far", on(12, 9), harvest(19, 0, 0.6), notice.LossLikely},
		{"nearly", on(12, 9), harvest(19, 0, 0.59), ""},
		{"the only window there is", on(12, 9), one, notice.OnlyWindow},
		{"a danger by day cuts one of many", on(12, 9), cut, ""},
		{"no window at all", on(12, 9), tooLate(17, 0.3), notice.NoWindow},
		{"cannot be seen", on(12, 9), unknown(), ""},
	} {
		w, d := next(farm.Event{}, seen(c.v, on(12, 6)), rules, c.at, false, false)
		if c.why == "" {
			assert.Nil(t, d, c.name)
			assert.False(t, w.Phase.Open(), c.name)
			continue
		}
		require.NotNil(t, d, c.name)
		assert.Equal(t, c.why, d.Why, c.name)
		assert.Equal(t, notice.HarvestBefore, d.Kind, c.name)
		assert.Equal(t, 1, d.Revision, c.name)
		assert.True(t, w.Phase.Open(), c.name)
		_, d = next(farm.Event{Inspected: c.v.Night}, seen(c.v, on(12, 6)), rules, c.at, false, false)
		assert.Nil(t, d, "%s: that night has been asked about", c.name)
	}
}

// Why nothing was told is counted by its reason: one that would have been told and
// has been asked about or said already is not one that stands.
func TestWhyNothingIsTold(t *testing.T) {
	asked, spent := farm.Event{Inspected: nightOf(25)}, farm.Event{Phase: farm.Spent}
	gone := harvest(17, 0, 0.9)
	gone.NothingLeft = true
	for _, c := range []struct {
		name  string
		e     farm.Event
		v     farm.Verdict
		muted bool
		want  notice.Reason
	}{
		{"holds", farm.Event{}, holds(0.1), false, notice.Stands},
		{"holds, asked about before", asked, holds(0.1), false, notice.Stands},
		{"not yet", farm.Event{}, harvest(19, 0, 0.3), false, notice.NotYet},
		{"not yet, asked about before", asked, harvest(19, 0, 0.3), false, notice.NotYet},
		{"due, asked about before", asked, harvest(14, 0, 0.3), false, notice.AskedAlready},
		{"too late again", spent, tooLate(17, 0.4), false, notice.SaidTooLate},
		{"due after too late", spent, harvest(14, 0, 0.3), false, notice.WithinLead},
		{"cannot be seen", farm.Event{}, unknown(), false, notice.CannotSee},
		{"left alone", farm.Event{}, harvest(14, 0, 0.3), true, notice.LeftAlone},
		{"nothing left", farm.Event{}, gone, false, notice.NothingLeft},
	} {
		got := notice.Next(notice.Moment{Event: c.e, Verdict: seen(c.v, on(12, 6)), Rules: rules, Now: on(12, 9), Muted: c.muted})
		assert.Equal(t, c.want, got.Reason, c.name)
		assert.Equal(t, c.want == notice.WithinLead, got.Draft != nil, c.name)
	}
}

func TestTheCourseOfAnEvent(t *testing.T) {
	told := step{at: on(16, 18), v: harvest(18, 0, 0.4), issued: 1, want: notice.HarvestBefore, night: 18, revision: 1}
	for name, steps := range map[string][]step{
		"told, last call, inspection": {
			told,
			{at: on(17, 9), v: harvest(18, 0, 0.4), issued: 2},
			{at: on(18, 5), v: harvest(18, 0, 0.4), issued: 3},
			{at: on(18, 6), v: harvest(18, 0, 0.4), issued: 3, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16), why: notice.LastWindow},
			{at: on(18, 10), v: harvest(18, 0, 0.4), issued: 4},
			{at: on(18, 17), v: tooLate(18, 0.4), issued: 4},
			{at: on(19, 9), v: hurt(holds(0.1)), issued: 5},
			{at: on(19, 10), v: hurt(holds(0.1)), issued: 5, want: notice.Inspect, night: 18, revision: 3, why: notice.NightBeen},
			{at: on(19, 11), v: hurt(holds(0.1)), issued: 5},
		},
		"answered: no last call": {
			told,
			{at: on(18, 6), v: harvest(18, 0, 0.4), issued: 2, answered: true},
			{at: on(18, 9), v: harvest(18, 0, 0.4), issued: 2, answered: true},
			{at: on(19, 10), v: hurt(holds(0.1)), issued: 3, want: notice.Inspect, night: 18, revision: 2},
		},
		"a night that did no harm is stood down": {
			told,
			{at: on(18, 6), v: harvest(18, 0, 0.4), issued: 2, answered: true},
			{at: on(19, 9), v: holds(0.15), issued: 5},
			{at: on(19, 10), v: holds(0.15), issued: 5, want: notice.StandDown, night: 18, revision: 2, why: notice.NightHarmless},
			{at: on(19, 12), v: holds(0.15), issued: 6},
		},
		"no harm, but the next danger is in sight": {
			told,
			{at: on(18, 6), v: harvest(18, 0, 0.4), issued: 2, answered: true},
			{at: on(19, 10), v: harvest(20, 0, 0.4), issued: 5},
			{at: on(19, 10), v: harvest(20, 0, 0.4), issued: 5, want: notice.HarvestBefore, night: 20, revision: 2},
		},
		"no harm, and no window before the next": {
			told,
			{at: on(18, 6), v: harvest(18, 0, 0.4), issued: 2, answered: true},
			{at: on(19, 10), v: tooLate(19, 0.4), issued: 5},
			{at: on(19, 11), v: tooLate(19, 0.4), issued: 5, want: notice.HarvestBefore, night: 19, revision: 2},
			{at: on(20, 10), v: tooLate(20, 0.4), issued: 6},
			{at: on(20, 11), v: tooLate(20, 0.4), issued: 6},
		},
		"told as its window opens: no last call on top, but one before it ends": {
			{at: on(18, 7), v: harvest(18, 0, 0.4), issued: 1, want: notice.HarvestBefore, night: 18, revision: 1},
			{at: on(18, 8), v: harvest(18, 0, 0.4), issued: 1},
			{at: on(18, 14), v: harvest(18, 0, 0.4), issued: 2},
			{at: on(18, 15), v: harvest(18, 0, 0.4), issued: 2, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)},
		},
		"told the evening before: a last call all the same": {
			{at: on(17, 23), v: harvest(18, 0, 0.4), issued: 1, want: notice.HarvestBefore, night: 18, revision: 1},
			{at: on(18, 5), v: harvest(18, 0, 0.4), issued: 1},
			{at: on(18, 6), v: harvest(18, 0, 0.4), issued: 1, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)}, // seven hours on
		},
		"told in the small hours: none before eight hours have passed": {
			{at: on(18, 1), v: harvest(18, 0, 0.4), issued: 1, want: notice.HarvestBefore, night: 18, revision: 1},
			{at: on(18, 8), v: harvest(18, 0, 0.4), issued: 1},
			{at: on(18, 9), v: harvest(18, 0, 0.4), issued: 1, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)},
		},
		"left alone by the grower": {
			told,
			{at: on(17, 9), v: harvest(17, 0, 0.9), issued: 2, muted: true},
			{at: on(18, 7), v: harvest(18, 0, 0.4), issued: 3, muted: true},
			{at: on(19, 10), v: hurt(holds(0.1)), issued: 4, muted: true, want: notice.Inspect, night: 18, revision: 2},
			{at: on(19, 13), v: harvest(20, 0, 0.4), issued: 4, want: notice.HarvestBefore, night: 20, revision: 3},
		},
		"moved earlier at once": {
			told,
			{at: on(16, 20), v: harvest(17, 0, 0.5), issued: 2, want: notice.Moved, night: 17, revision: 2, before: on(18, 16), why: notice.CameNearer},
			{at: on(16, 21), v: harvest(17, 0, 0.5), issued: 2},
		},
		"by less than the farm's step: not told": {
			told,
			{at: on(16, 20), v: by(harvest(18, 0, 0.5), on(18, 11)), issued: 2},
			{at: on(16, 22), v: by(harvest(18, 0, 0.5), on(18, 10)), issued: 3, want: notice.Moved, night: 18, revision: 2, before: on(18, 16), why: notice.CameNearer},
		},
		"moved later after two issues": {
			told,
			{at: on(16, 20), v: harvest(20, 0, 0.3), issued: 2},
			{at: on(16, 21), v: harvest(20, 0, 0.3), issued: 2}, // the same issue judged again
			{at: on(17, 2), v: harvest(20, 0, 0.3), issued: 3, want: notice.Moved, night: 20, revision: 2, before: on(18, 16), why: notice.MovedAway},
		},
		"later, but the night that was told is not clear: not told": {
			told,
			{at: on(16, 20), v: still(harvest(20, 0, 0.3), 0.15), issued: 2},
			{at: on(17, 2), v: still(harvest(20, 0, 0.3), 0.1), issued: 3},
			{at: on(17, 8), v: still(harvest(20, 0, 0.3), 0.09), issued: 4},
			{at: on(17, 14), v: still(harvest(20, 0, 0.3), 0.12), issued: 5},
			{at: on(17, 16), v: still(harvest(20, 0, 0.3), 0.09), issued: 6},
			{at: on(17, 22), v: still(harvest(20, 0, 0.3), 0.09), issued: 7, want: notice.Moved, night: 20, revision: 2, before: on(18, 16)},
		},
		"such a night gets its last call": {
			told,
			{at: on(18, 5), v: still(harvest(20, 0, 0.3), 0.15), issued: 2},
			{at: on(18, 6), v: still(harvest(20, 0, 0.3), 0.15), issued: 2, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)},
			{at: on(18, 18), v: still(harvest(20, 0, 0.3), 0.15), issued: 3},
			{at: on(19, 10), v: harvest(20, 0, 0.3), issued: 4}, // it did no harm, and the next is in sight
			{at: on(19, 10), v: harvest(20, 0, 0.3), issued: 4, want: notice.HarvestBefore, night: 20, revision: 3},
		},
		"stood down for its own night, whatever the far ones hold": {
			told,
			{at: on(16, 20), v: holding(18, 0.05, 0.19), issued: 2},
			{at: on(17, 2), v: holding(18, 0.05, 0.19), issued: 3, want: notice.StandDown, night: 18, revision: 2, before: on(18, 16)},
		},
		"later, and back": {
			told,
			{at: on(16, 20), v: harvest(20, 0, 0.3), issued: 2},
			{at: on(17, 2), v: harvest(18, 0, 0.3), issued: 3},
			{at: on(17, 8), v: harvest(20, 0, 0.3), issued: 4},
			{at: on(17, 14), v: holds(0.15), issued: 5}, // not later: gone, for one issue
			{at: on(17, 20), v: harvest(20, 0, 0.3), issued: 6},
		},
		"stood down after two issues under half of C/L": {
			told,
			{at: on(16, 20), v: holds(0.09), issued: 2},
			{at: on(16, 22), v: holds(0.09), issued: 2}, // the same issue judged again
			{at: on(17, 2), v: holds(0.05), issued: 3, want: notice.StandDown, night: 18, revision: 2, before: on(18, 16), why: notice.DangerGone},
			{at: on(17, 8), v: holds(0.05), issued: 4},
			{at: on(17, 14), v: harvest(18, 0, 0.4), issued: 5, want: notice.HarvestBefore, night: 18, revision: 3},
		},
		"not when it is between": {
			told,
			{at: on(16, 20), v: holds(0.09), issued: 2},
			{at: on(17, 2), v: holds(0.1), issued: 3}, // not under half of 0.2
			{at: on(17, 8), v: holds(0.09), issued: 4},
			{at: on(17, 14), v: harvest(18, 0, 0.21), issued: 5},
			{at: on(17, 20), v: holds(0.01), issued: 6},
			{at: on(18, 2), v: unknown(), issued: 7},
			{at: on(18, 3), v: holds(0.01), issued: 8, want: notice.StandDown, night: 18, revision: 2, before: on(18, 16)},
		},
		"a last call in between, for the window that was told": {
			told,
			{at: on(18, 4), v: holds(0.15), issued: 2},
			{at: on(18, 6), v: holds(0.15), issued: 2, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)},
		},
		"none once it looks safe": {
			told,
			{at: on(18, 6), v: holds(0.05), issued: 2},
			{at: on(18, 9), v: holds(0.05), issued: 2},
		},
		"none for a window that the newest forecast has moved away": {
			told,
			{at: on(18, 6), v: harvest(20, 0, 0.3), issued: 2},
			{at: on(18, 9), v: harvest(20, 0, 0.3), issued: 2},
			{at: on(18, 12), v: harvest(20, 0, 0.3), issued: 3, want: notice.Moved, night: 20, revision: 2, before: on(18, 16)},
			{at: on(20, 6), v: harvest(20, 0, 0.3), issued: 4, want: notice.LastCall, night: 20, revision: 3, before: on(20, 16)},
		},
		"one for a window that comes a little sooner": {
			told,
			{at: on(18, 5), v: window(harvest(18, 0, 0.4), on(18, 7), on(18, 14)), issued: 2, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)},
		},
		"unknown changes nothing": {
			told,
			{at: on(17, 2), v: unknown(), issued: 2},
			{at: on(18, 7), v: unknown(), issued: 3},
			{at: on(18, 8), v: harvest(18, 0, 0.4), issued: 4, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)},
			{at: on(19, 12), v: unknown(), issued: 5, want: notice.Inspect, night: 18, revision: 3}, // a night ends by the clock
		},
		"overtaken: the cold comes before any window": {
			told,
			{at: on(17, 2), v: tooLate(17, 0.9), issued: 2, want: notice.Moved, night: 17, revision: 2, before: on(18, 16), why: notice.WindowsClosed},
			{at: on(17, 4), v: tooLate(17, 0.9), issued: 3},
			{at: on(18, 10), v: lostIn(17), issued: 4, want: notice.Inspect, night: 17, revision: 3},
			{at: on(18, 12), v: lostIn(17), issued: 5},
			{at: on(19, 12), v: lostIn(17), issued: 6},
		},
		"a window passes: no message that it has": {
			told,
			{at: on(18, 6), v: harvest(18, 0, 0.4), issued: 2, answered: true},
			{at: on(18, 16), v: tooLate(18, 0.4), issued: 2},
			{at: on(18, 23), v: tooLate(18, 0.6), issued: 3},
		},
		"too late, then a window opens": {
			{at: on(16, 18), v: tooLate(17, 0.4), issued: 1, want: notice.HarvestBefore, night: 17, revision: 1, why: notice.NoWindow},
			{at: on(17, 2), v: by(harvest(17, 0, 0.4), on(17, 14)), issued: 2, want: notice.Moved, night: 17, revision: 2, why: notice.WindowOpened},
		},
		"the night of an event follows the forecast while its deadline is to come": {
			told,
			{at: on(17, 2), v: by(harvest(18, 1, 0.4), on(18, 16)), issued: 2}, // danger a night later, the same last window
			{at: on(18, 6), v: by(harvest(18, 1, 0.4), on(18, 16)), issued: 3, want: notice.LastCall, night: 18, revision: 2, before: on(18, 16)},
			{at: on(19, 10), v: tooLate(19, 0.4), issued: 4},
			{at: on(20, 10), v: hurt(holds(0)), issued: 5, want: notice.Inspect, night: 19, revision: 3},
		},
	} {
		t.Run(name, func(t *testing.T) { play(t, name, steps) })
	}
}

// holding is a bed that holds, with one likelihood up to a night and another after.
func holding(day int, upTo, after float64) farm.Verdict {
	v := holds(after)
	for d := 10; d < 30; d++ {
		n := farm.NightRisk{Night: nightOf(d), Likelihood: upTo}
		if d > day {
			n.Likelihood = after
		}
		v.Nights = append(v.Nights, n)
	}
	return v
}

func by(v farm.Verdict, at time.Time) farm.Verdict {
	v.HarvestBefore = unit.Some(at)
	w, _ := v.LastWindow.Get()
	w.End = at
	v.LastWindow = unit.Some(w)
	return v
}

func window(v farm.Verdict, from, to time.Time) farm.Verdict {
	v.LastWindow, v.HarvestBefore = unit.Some(farm.Window{Start: from, End: to}), unit.Some(to)
	return v
}

// A long cold spell without a window: told once, asked about once, and then left
// in peace until a window opens, relief comes, or the model says it is gone.
func TestTooLateIsToldOnce(t *testing.T) {
	late := func(day, issued int) step { return step{at: on(day, 18), v: tooLate(day, 0.4), issued: issued} }
	spell := []step{
		{at: on(12, 18), v: tooLate(12, 0.4), issued: 1, want: notice.HarvestBefore, night: 12, revision: 1},
		{at: on(13, 10), v: hurt(tooLate(13, 0.4)), issued: 2, want: notice.Inspect, night: 12, revision: 2},
		late(13, 3), late(14, 4), late(15, 5),
		{at: on(16, 9), v: holds(0.15), issued: 6}, // between: not yet relief
		late(16, 7), late(17, 8),
	}
	play(t, "left in peace", spell)
	play(t, "until the model says it is gone", append(spell,
		step{at: on(18, 4), v: lostIn(17), issued: 9}, // it is dark
		step{at: on(18, 10), v: lostIn(17), issued: 9, want: notice.Inspect, night: 17, revision: 3},
		step{at: on(18, 12), v: lostIn(17), issued: 10},
		step{at: on(25, 12), v: lostIn(17), issued: 11}))
	play(t, "until a window opens", append(spell,
		step{at: on(18, 9), v: harvest(18, 0, 0.4), issued: 9, want: notice.HarvestBefore, night: 18, revision: 3}))
	play(t, "until relief comes", append(spell,
		step{at: on(18, 9), v: holds(0.02), issued: 9},
		step{at: on(20, 9), v: tooLate(20, 0.4), issued: 10, want: notice.HarvestBefore, night: 20, revision: 3}))
}

// Ground that has frozen shut for the winter is told once, and nothing is to be
// inspected: the roots may be sound under it.
func TestGroundFrozenShutIsToldOnce(t *testing.T) {
	shut := func(day int) farm.Verdict {
		v := tooLate(day, 0.7)
		v.Cause = farm.GroundFrozen
		return v
	}
	before := harvest(18, 0, 0.6)
	before.Cause = farm.GroundFrozen
	steps := []step{{at: on(16, 18), v: before, issued: 1, want: notice.HarvestBefore, night: 18, revision: 1}}
	for day := 18; day < 30; day++ {
		steps = append(steps, step{at: on(day, 18), v: shut(day), issued: day}, step{at: on(day+1, 10), v: shut(day + 1), issued: day})
	}
	w := play(t, "told before", steps)
	assert.False(t, w.Phase.Open())
	assert.Empty(t, w.Inspected)
	play(t, "told too late", []step{
		{at: on(16, 18), v: shut(16), issued: 1, want: notice.HarvestBefore, night: 16, revision: 1},
		{at: on(17, 10), v: shut(17), issued: 2}, {at: on(17, 18), v: shut(17), issued: 3}, {at: on(19, 18), v: shut(19), issued: 4},
		{at: on(20, 18), v: tooLate(20, 0.5), issued: 5}, // shut, and the shoulders are about to freeze: there is still nothing to do
		{at: on(21, 12), v: lostIn(20), issued: 6, want: notice.Inspect, night: 20, revision: 2},
	})
}

// A night that took a bed is asked about once, in daylight, told before or not.
func TestALostNightIsAskedAboutOnce(t *testing.T) {
	play(t, "without a warning", []step{
		{at: on(14, 4), v: lostIn(13), issued: 1},
		{at: on(14, 9), v: lostIn(13), issued: 1},
		{at: on(14, 10), v: lostIn(13), issued: 1, want: notice.Inspect, night: 13, revision: 1},
		{at: on(14, 16), v: lostIn(13), issued: 2},
		{at: on(15, 10), v: lostIn(13), issued: 3},
		{at: on(16, 9), v: lostIn(15), issued: 4}, // found half lost, then the rest goes another night
		{at: on(16, 10), v: lostIn(15), issued: 4, want: notice.Inspect, night: 15, revision: 2},
	})
	play(t, "a night sooner than told", []step{
		{at: on(16, 18), v: harvest(18, 0, 0.4), issued: 1, want: notice.HarvestBefore, night: 18, revision: 1},
		{at: on(18, 3), v: lostIn(17), issued: 2},
		{at: on(18, 11), v: lostIn(17), issued: 2, want: notice.Inspect, night: 17, revision: 2},
		{at: on(19, 11), v: lostIn(17), issued: 3},
	})
	play(t, "told, and by later observations a night sooner", []step{
		{at: on(16, 18), v: harvest(18, 0, 0.4), issued: 1, want: notice.HarvestBefore, night: 18, revision: 1},
		{at: on(19, 10), v: hurt(holds(0.01)), issued: 2, want: notice.Inspect, night: 18, revision: 2},
		{at: on(19, 20), v: lostIn(17), issued: 3},
	})
	found := lostIn(18)
	found.NothingLeft = true
	w := play(t, "the grower has told", []step{
		{at: on(16, 18), v: harvest(18, 0, 0.4), issued: 1, want: notice.HarvestBefore, night: 18, revision: 1},
		{at: on(19, 9), v: found, issued: 2},
		{at: on(19, 12), v: found, issued: 2},
		{at: on(20, 12), v: found, issued: 3},
	})
	assert.False(t, w.Phase.Open())
}

// In the evening that begins it and through daylight saving, a night is over two
// hours before its noon.
func TestANightIsOverByTheLocalClock(t *testing.T) {
	w := farm.Event{Phase: farm.Told, Night: "2025-11-01", Revision: 1} // 25 hours long
	v := seen(holds(0.15), on(1, 0))
	for at, over := range map[time.Time]bool{
		time.Date(2025, 11, 2, 9, 59, 0, 0, chicago): false, time.Date(2025, 11, 2, 10, 0, 0, 0, chicago): true,
	} {
		_, d := next(w, v, rules, at, false, false)
		assert.Equal(t, over, d != nil, at)
	}
}

// An older program's watch, without the newer fields, still ends with its night.
func TestAStoredWatchOfOldIsRead(t *testing.T) {
	var w farm.Event
	require.NoError(t, json.Unmarshal([]byte(`{"open":true,"night":"2025-11-18","revision":4,"low_issues":1,"later_issues":0}`), &w))
	_, d := next(w, seen(holds(0.15), on(19, 6)), rules, on(19, 11), false, false)
	require.NotNil(t, d)
	assert.Equal(t, &notice.Draft{Kind: notice.Inspect, Night: farm.Day("2025-11-18"), Revision: 5, Why: notice.NightBeen}, d)
}
