package notice_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
)

// after gives the phase and notice that the table allows for a reason: of the
// phase itself, or of that into which a relief first brought it.
func after(from farm.Phase, why notice.Reason) (rows []notice.Move) {
	relieved := map[farm.Phase]farm.Phase{farm.ToldTooLate: farm.Relieved, farm.Spent: farm.Quiet}
	starts := []farm.Phase{from}
	if to, ok := relieved[from]; ok {
		starts = append(starts, to)
	}
	for _, start := range starts {
		row := notice.Move{From: []farm.Phase{start}, To: start}
		for _, m := range notice.Moves {
			if m.For == why && slices.Contains(m.From, start) {
				row = m
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// step is a random moment some time after the last.
func anyMoment(t *rapid.T, e farm.Event, now, issued *time.Time) notice.Moment {
	*now = now.Add(time.Duration(rapid.IntRange(10, 600).Draw(t, "minutes on")) * time.Minute)
	if rapid.Bool().Draw(t, "a new issue") {
		*issued = *now
	}
	m := notice.Moment{Event: e, Verdict: seen(anyVerdict(t, *now), *issued), Rules: rules, Now: *now,
		Answered: rapid.Bool().Draw(t, "answered"), Muted: rapid.IntRange(0, 9).Draw(t, "muted") == 0}
	m.Verdict.NothingLeft = rapid.IntRange(0, 20).Draw(t, "nothing left") == 0
	return m
}

// Over any course of verdicts, phases move and notices go out only by the table.
func TestPropertyEventsMoveByTheTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e farm.Event
		now, issued := on(10, 0), on(9, 18)
		for range rapid.IntRange(1, 120).Draw(t, "rounds") {
			d := notice.Next(anyMoment(t, e, &now, &issued))
			sent := notice.Kind("")
			if d.Draft != nil {
				sent = d.Draft.Kind
				require.Equal(t, d.Reason, d.Draft.Why)
			}
			require.Contains(t, notice.Reasons(), d.Reason)
			allowed := slices.ContainsFunc(after(e.Phase, d.Reason), func(m notice.Move) bool { return m.Sends == sent && m.To == d.Event.Phase })
			require.True(t, allowed, "from %q for %s to %q, sent %q", e.Phase, d.Reason, d.Event.Phase, sent)
			e = d.Event
		}
	})
}

// Every row but relief, which is the step before another, is lived from some
// phase; and every reason to say nothing comes up.
func TestEveryRowOfTheTableIsLived(t *testing.T) {
	lived, reasons := map[string]bool{}, map[notice.Reason]bool{}
	now, issued := on(10, 0), on(9, 18)
	var e farm.Event
	course := rapid.Custom(func(t *rapid.T) notice.Moment { return anyMoment(t, e, &now, &issued) })
	var m notice.Moment
	for i := range 40000 {
		if i%40 == 0 { // whatever came before
			now, issued, e = on(10, 0), on(9, 18), farm.Event{}
		}
		last := m.Verdict
		m = course.Example(i)
		switch {
		case i%3 > 0 && i%40 > 0: // forecasts mostly agree with the one before
			issued := m.Verdict.Forecast.Issued
			m.Verdict = last
			m.Verdict.Forecast.Issued = issued
		case m.Verdict.NothingLeft && i%5 > 0:
			m.Verdict.NothingLeft = false
		}
		if n := len(m.Verdict.Windows); n > 0 && i%7 == 0 {
			m.Verdict.Windows = m.Verdict.Windows[n-1:]
		}
		d := notice.Next(m)
		lived[fmt.Sprint(e.Phase, d.Reason)], reasons[d.Reason] = true, true
		e = d.Event
	}
	for _, m := range notice.Moves {
		if m.For != notice.Relief {
			assert.True(t, slices.ContainsFunc(m.From, func(p farm.Phase) bool { return lived[fmt.Sprint(p, m.For)] }), "%v for %s is never lived", m.From, m.For)
		}
	}
	for _, r := range notice.Reasons() {
		assert.True(t, reasons[r] || r == notice.Relief, "%s never comes up", r)
	}
}

func TestTheTableSaysOneThingOfEach(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range notice.Moves {
		for _, from := range m.From {
			key := fmt.Sprint(from, " for ", m.For)
			assert.False(t, seen[key], "%s stands twice", key)
			seen[key] = true
			assert.False(t, m.Sends == "" && m.To == from, "%s moves nothing", key)
		}
		assert.Contains(t, notice.Reasons(), m.For)
	}
	assert.Len(t, notice.Reasons(), len(slices.Compact(slices.Sorted(slices.Values(notice.Reasons())))), "a reason stands twice")
}

// Events that were kept before phases had names: three flags.
func TestAnEventOfFlagsIsRead(t *testing.T) {
	for body, want := range map[string]farm.Phase{
		`{"open":false,"revision":2}`:                                           farm.Quiet,
		`{"open":true,"deadline":"2025-11-18T16:00:00Z","revision":1}`:          farm.Told,
		`{"open":true,"deadline":"2025-11-18T16:00:00Z","last_called":true}`:    farm.Called,
		`{"open":true,"gone":true}`:                                             farm.ToldTooLate,
		`{"open":true}`:                                                         farm.Relieved,
		`{"open":false,"gone":true,"revision":7,"inspected":"2025-11-18"}`:      farm.Spent,
		`{"phase":"told","deadline":"2025-11-18T16:00:00Z","last_called":true}`: farm.Told,
	} {
		var e farm.Event
		require.NoError(t, e.UnmarshalJSON([]byte(body)), body)
		assert.Equal(t, want, e.Phase, body)
	}
}
