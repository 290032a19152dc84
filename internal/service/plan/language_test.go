package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/phrase/phrasetest"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/unit"
)

// What is wrong with a history is said by the phrases alone, with file and line.
func TestFaultsOfAHistoryAreSaidByThePhrasesAlone(t *testing.T) {
	book := phrasetest.Book(t)
	for _, what := range weatherfile.Whats() {
		l := plan.FaultLine(&weatherfile.Fault{File: "hill.csv", Line: 3, Column: "tmin_c", What: what, Found: "warm", Right: "12.5"})
		text := book.Tell(phrasetest.Language, l)
		assert.Empty(t, phrasetest.Stray(text, "hill.csv", "tmin_c", "warm"), text)
		assert.Contains(t, text, "hill.csv")
		assert.NotContains(t, l.String(), "[", "in no phrase file: %s", what)
	}
}

// Plans and notes are said by the phrases alone, whatever the language.
func TestPlansAndNotesAreSaidByThePhrasesAlone(t *testing.T) {
	s := phrase.Speaker{Book: phrasetest.Book(t), Language: phrasetest.Language, Units: unit.US, Zone: time.UTC}
	a, b, c := liftable(1, 5, 100, 2, 50), liftable(2, 5, 100, 3, 20), liftable(3, 5, 10, 2, 20)
	b.RoomKinds, c.Kg, a.PricePerKg = []string{farm.Cellar}, unit.None[float64](), unit.None[float64]()
	p := lined(t, []lifting.Bed{a, b, c}, []lifting.Window{window(0, 5, 1), window(6, 7, 2)}, []lifting.Room{{ID: 7, Kind: farm.Cellar, FreeKg: unit.Some(20.0)}})
	p.CrewGiven, p.Exact, p.RoomsUnknown = false, false, true
	for i := range p.Beds {
		p.Beds[i].RateGiven, p.Beds[i].NoRoomKind = false, true
	}
	assert.Empty(t, phrasetest.Stray(p.Text(s), "B1", "B2", "B3", "carrot", "cellar"), p.Text(s))
	for _, code := range keeping.Codes() {
		n := keeping.Note{Code: code, Crop: "onion", Other: []string{"carrot"}, Share: unit.Some(0.7), Temp: unit.Some(unit.Celsius(-10)), Limit: unit.Some(unit.Celsius(-0.8))}
		text := plan.Say(s, n, func(crop string) string { return crop })
		assert.Empty(t, phrasetest.Stray(text, "onion", "Onion", "carrot"), text)
	}
}
