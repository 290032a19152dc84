package page

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"winterstand/internal/message/phrase"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// Conversions against definitions: pound 0.45359237 kg, inch 2.54 cm, foot
// 0.3048 m (international yard and pound agreement, 1959); Fahrenheit by its
// fixed points 32 and 212.
func TestNumbersOnFormsAreReadInTheReadersUnits(t *testing.T) {
	cases := []struct {
		m    measure
		text string
		si   float64
	}{
		{temperatureIn(unit.US), "32", 0}, {temperatureIn(unit.US), "212", 100}, {temperatureIn(unit.US), "-40", -40}, {temperatureIn(unit.Metric), "-6,7", -6.7},
		{differenceIn(unit.US), "1.8", 1}, {massIn(unit.US), "1", 0.45359237}, {depthIn(unit.US), "1", 2.54}, {heightIn(unit.US), "1000", 304.8},
		{percent, "95", 0.95}, {plainNumber, "12.5", 12.5}, {plainNumber, "12,5", 12.5}, {plainNumber, "−3", -3}, {plainNumber, " 7 ", 7},
		{pricePerMassIn(unit.US, "USD"), "0.45359237", 1}, {massRateIn(unit.US, " an hour"), "100", 45.359237},
	}
	for _, c := range cases {
		got, ok := c.m.read(c.text)
		assert.True(t, ok, c.text)
		assert.InDelta(t, c.si, got, 1e-9, c.text)
	}
	for _, bad := range []string{"", "x", "1,000.5", "1,2,3", "NaN", "Inf", "-inf", "0x10", "1_000", "1e999", "12 lb", "--1", "1,000", "-12,500"} {
		_, ok := plainNumber.read(bad)
		assert.False(t, ok, "%q", bad)
	}
}

func TestANumberThatIsShownIsReadBack(t *testing.T) {
	all := []measure{temperatureIn(unit.US), temperatureIn(unit.Metric), massIn(unit.US), depthIn(unit.US), percent, differenceIn(unit.US)}
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(all).Draw(t, "measure")
		tenths := rapid.IntRange(-1000, 1000).Draw(t, "tenths")
		shown := plainNumber.write(float64(tenths) / 10)
		si, ok := m.read(shown)
		if !ok || m.write(si) != shown {
			t.Fatalf("%s %s came back as %s", shown, m.unit, m.write(si))
		}
	})
}

func FuzzNumber(f *testing.F) {
	for _, s := range []string{"12,5", "-6.7", "−3", "1e5", "0x1p-2", "NaN", "١٢"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, ok := plainNumber.read(s)
		if ok && (v != v || v > 1e308 || v < -1e308) {
			t.Fatalf("%q was read as %v", s, v)
		}
	})
}

// What a number may be is said with the ends it has: closed, open below, open on both sides.
func TestRangesAreSaidWithTheirEnds(t *testing.T) {
	v := &visit{speaker: phrase.Speaker{Book: phrase.MustLoad(), Language: "en", Units: unit.Metric}}
	for limit, want := range map[string]string{
		"bed.mulch_cm":  "Please write a number from 0 to 60 cm.",
		"shift.people":  "Please write a number more than 0 and at most 500.",
		"bed.cost_loss": "Please write a number more than 0 and less than 100 %.",
	} {
		m := map[string]measure{"bed.mulch_cm": depthIn(unit.Metric), "shift.people": plainNumber, "bed.cost_loss": percent}[limit]
		assert.Equal(t, want, v.rangeSaid(commands.Limits[limit], m))
	}
}
