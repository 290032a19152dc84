package farm

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

func TestWhichPhasesAreOpen(t *testing.T) {
	for p, want := range map[Phase]bool{Quiet: false, Told: true, Called: true, ToldTooLate: true, Relieved: true, Spent: false} {
		assert.Equal(t, want, p.Open(), "%q", p)
	}
}

// An event ends with the night it awaits, else with the one that was told.
func TestTheNightAfterWhichAnEventIsOver(t *testing.T) {
	assert.Equal(t, Day("2025-11-16"), Event{Night: "2025-11-14", Awaits: "2025-11-16"}.Ends())
	assert.Equal(t, Day("2025-11-14"), Event{Night: "2025-11-14"}.Ends())
}

func TestOfAClosedEventItsCountsAreRemembered(t *testing.T) {
	e := Event{Phase: Told, NoticeID: 7, Night: "2025-11-14", Revision: 3, Issued: unit.Some(six), Inspected: "2025-11-13", LowIssues: 2, LaterIssues: 1}
	assert.Equal(t, Event{Phase: Quiet, Revision: 3, Issued: unit.Some(six), Inspected: "2025-11-13"}, e.Closed(Quiet))
	assert.Equal(t, Spent, e.Closed(Spent).Phase)
}

// Events that were kept before phases had names.
func TestEventsOfThreeFlagsAreRead(t *testing.T) {
	for body, want := range map[string]Phase{
		`{}`: Quiet,
		`{"open":true,"deadline":"2025-11-14T06:00:00Z"}`:                    Told,
		`{"open":true,"last_called":true,"deadline":"2025-11-14T06:00:00Z"}`: Called,
		`{"open":true}`:                          Relieved,
		`{"open":true,"gone":true}`:              ToldTooLate,
		`{"gone":true}`:                          Spent,
		`{"phase":"told","gone":true}`:           Told,
		`{"phase":"called"}`:                     Called,
		`{"last_called":true,"revision":4}`:      Quiet,
		`{"open":true,"gone":true,"revision":4}`: ToldTooLate,
	} {
		var e Event
		require.NoError(t, json.Unmarshal([]byte(body), &e), body)
		assert.Equal(t, want, e.Phase, body)
	}
	var e Event
	assert.Error(t, json.Unmarshal([]byte(`{"phase":7}`), &e))
	assert.Error(t, json.Unmarshal([]byte(`{"open":7}`), &e))
}

// A day of sowing that lies ahead is a slip; today's counts.
func TestTheDayOfSowingThatCounts(t *testing.T) {
	b := Bed{SownOn: unit.Some(Day("2025-11-14"))}
	assert.Equal(t, b.SownOn, b.Sown("2025-11-14"))
	assert.False(t, b.Sown("2025-11-13").Known())
	assert.False(t, Bed{}.Sown("2025-11-13").Known())
}
