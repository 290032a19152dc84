package reply

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

var understood = read()

func read() Vocabulary {
	v, err := Read(phrase.MustLoad())
	if err != nil {
		panic(err)
	}
	return v
}

func TestParse(t *testing.T) {
	none := -1.0
	for _, c := range []struct {
		text string
		word Word
		kg   float64
	}{
		{"HARVESTED", Harvested, none},
		{" harvested. ", Harvested, none},
		{"All", Harvested, none},
		{"Harvested all of", Unknown, none},
		{"harvested all, thanks!", Harvested, none},
		{"HARVESTED 40 KG", Harvested, 40},
		{"harvested 40kg", Harvested, 40},
		{"40 kg harvested", Harvested, 40},
		{"Harvested: 90 LB", Harvested, 90 * 0.45359237}, // international pound, 1959, exact
		{"harvested 1,200 lbs", Harvested, 1200 * 0.45359237},
		{"harvested 12.5 kilos", Harvested, 12.5},
		{"Cosechado 12,5 kg", Harvested, 12.5},
		{"cosechado", Harvested, none},
		{"COSECHÉ TODO", Harvested, none},
		{"Harvested 0.250 kg", Harvested, 0.25},
		{"covered", Covered, none},
		{"Cubierto", Covered, none},
		{"cubiertas ya", Covered, none},
		{"Leave it", LeaveIt, none},
		{"DEJAR", LeaveIt, none},
		{"Déjalo", LeaveIt, none},
		{"seen 👍", Seen, none},
		{"Visto, gracias", Seen, none},
		{"STOP", Stop, none},
		{"stop!!", Stop, none},
		{"Stop sending me these", Stop, none},
		{"Stop?", Stop, none},
		{"opt out", Stop, none},
		{"UNSUBSCRIBE", Stop, none},
		{"Cancel", Stop, none},
		{"END", Stop, none},
		{"quit please", Stop, none},
		{"Alto", Stop, none},
		{"parar por favor", Stop, none},
		{"start", Start, none},
		{"HELP", Help, none},
		{"info", Help, none},
		{"ayuda", Help, none},
		// not understood in full, so not understood
		{"", Unknown, none},
		{"...", Unknown, none},
		{"not harvested", Unknown, none},
		{"harvested not yet", Unknown, none},
		{"harvested half", Unknown, none},
		{"harvested 50%", Unknown, none},
		{"harvested 1/2", Unknown, none},
		{"harvested?", Unknown, none},
		{"harvested 40", Unknown, none},
		{"harvested 40 boxes", Unknown, none},
		{"harvested 0 kg", Unknown, none},
		{"harvested 40 kg 50 kg", Unknown, none},
		{"harvested 12.500 kg", Unknown, none},
		{"harvested 1,200 kg", Unknown, none},
		{"harvested 900000 kg", Unknown, none},
		{"40 kg", Unknown, none},
		{"seen 40 kg", Unknown, none},
		{"covered harvested", Unknown, none},
		{"cancel the harvest", Unknown, none},
		{"leave it covered", Unknown, none},
		{"when?", Unknown, none},
		{"урожай", Unknown, none},
		{"harvested урожай", Unknown, none},
	} {
		word, kg := parseReply(c.text, "")
		assert.Equal(t, c.word, word, "%q", c.text)
		assert.InDelta(t, c.kg, kg.Else(none), 1e-9, "%q", c.text)
	}
}

func TestNumberWithoutUnit(t *testing.T) {
	word, kg := parseReply("harvested 40", unit.Metric)
	assert.Equal(t, Harvested, word)
	assert.InDelta(t, 40, kg.Else(0), 1e-9)
	_, kg = parseReply("harvested 40", unit.US)
	assert.InDelta(t, 18.1436948, kg.Else(0), 1e-9)
	_, kg = parseReply("harvested 40 kg", unit.US)
	assert.InDelta(t, 40, kg.Else(0), 1e-9, "a unit that is said counts")
}

func TestWordsAreTheAnswersOfANotice(t *testing.T) {
	for word, answer := range map[Word]string{Harvested: farm.Harvested, Covered: farm.Covered, LeaveIt: farm.LeaveIt, Seen: farm.Seen} {
		assert.Equal(t, answer, string(word))
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"HARVESTED 40 KG", "harvested 1,200 lb", "Déjalo", "stop", "1.2.3,4", "\xff 9"} {
		f.Add(s, "")
	}
	f.Fuzz(func(t *testing.T, text, system string) {
		word, kg := parseReply(text, unit.System(system))
		if v, ok := kg.Get(); ok && (word != Harvested || !(v > 0 && v <= mostKg)) {
			t.Fatalf("%q: %q with %v kg", text, word, v)
		}
	})
}

// parseReply reads a reply that names no bed.
func parseReply(text string, number unit.System) (Word, unit.Maybe[float64]) {
	m := understood.Parse(text, number, nil)
	return m.Word, m.Kg
}
