package phrase

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

func TestEveryLanguageIsComplete(t *testing.T) {
	b, err := Load()
	require.NoError(t, err)
	assert.Subset(t, b.Languages(), []string{"en", "es"})
}

func TestALanguageWithAnotherBraceIsRefused(t *testing.T) {
	b := &Book{languages: map[string]map[string]string{
		"en": {"a.b": "before {deadline}"}, "es": {"a.b": "antes de {plazo}"},
	}}
	assert.ErrorContains(t, b.check(), `"a.b" names [plazo], must name [deadline]`)
}

func TestSpeakerUsesTheReadersZoneUnitsAndLanguage(t *testing.T) {
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	at := time.Date(2026, 11, 19, 22, 30, 0, 0, time.UTC)
	us := Speaker{Book: MustLoad(), Language: "en", Units: unit.US, Zone: zone}
	assert.Equal(t, "Thu 19 Nov 4:30 pm CST", us.When(at))
	assert.Equal(t, "8 °F", us.Temperature(unit.FromFahrenheit(8)))
	es := Speaker{Book: us.Book, Language: "es", Units: unit.Metric, Zone: time.UTC, Plain: true}
	assert.Equal(t, "jue 19 nov 22:30 UTC", es.When(at))
	assert.Equal(t, "-13.3C", es.Temperature(unit.FromFahrenheit(8)))
}

func TestChanceIsSaidAsPeopleWeighIt(t *testing.T) {
	s := Speaker{Book: MustLoad(), Language: "en"}
	for p, want := range map[float64]string{0: "hardly any chance", 0.05: "1 in 20", 0.2: "2 in 10", 0.68: "7 in 10", 0.99: "nearly certain"} {
		assert.Equal(t, want, s.Chance(p), "p=%v", p)
	}
}

// Zones without letters of their own are said by their distance from UTC (IANA: the
// clocks of Brazil and Nepal have none).
func TestAZoneWithoutANameIsSaidFromUTC(t *testing.T) {
	at := time.Date(2026, 11, 19, 22, 30, 0, 0, time.UTC)
	for name, want := range map[string]string{"America/Sao_Paulo": "19:30 UTC-03", "Asia/Kathmandu": "04:15 UTC+0545", "America/Chicago": "16:30 CST"} {
		zone, err := time.LoadLocation(name)
		require.NoError(t, err)
		assert.Equal(t, want, Speaker{Book: MustLoad(), Language: "en", Units: unit.Metric, Zone: zone}.Clock(at))
	}
}
