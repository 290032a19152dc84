package notice_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/forecast"
	"winterstand/internal/message/notice"
	"winterstand/internal/weather"
)

// What is missing travels as a value and is said in the reader's language.
func TestWhatIsMissingIsSaidToEveryReader(t *testing.T) {
	for _, s := range readers() {
		for _, kind := range farm.GapKinds() {
			assert.True(t, s.Book.Has("missing."+string(kind)), kind)
			assert.NotContains(t, notice.Missing(s, []farm.Gap{{What: kind, Hours: 7, Of: 48, Name: "x", Says: "y"}}), "{", kind)
		}
	}
	for _, s := range readers() {
		for _, why := range weather.Doubts() {
			assert.True(t, s.Book.Has("layer."+string(why)), why)
		}
		for _, kind := range forecast.Kinds() {
			said := notice.Troubles(s, []notice.Trouble{{Source: "nws", Kind: kind, Says: "y"}})
			assert.NotContains(t, said[0], "{", kind)
			assert.NotContains(t, said[0], "[", kind)
		}
	}
	gaps := []farm.Gap{{What: farm.GapAir, Hours: 3, Of: 48}, {What: farm.GapRefused, Name: "windSpeed", Says: "unit furlong"}}
	es := readers()[1]
	es.Language = "es"
	assert.Equal(t, "air temperature (missing in 3 of the next 48 hours); layer windSpeed refused: unit furlong", notice.Missing(readers()[0], gaps))
	assert.Equal(t, "la temperatura del aire (falta en 3 de las próximas 48 horas); el dato windSpeed no se pudo aceptar: unit furlong", notice.Missing(es, gaps))
}

// Notices and verdicts of before what was missing had kinds hold sentences.
func TestWhatWasKeptAsASentenceIsSaidAsItIs(t *testing.T) {
	s := readers()[0]
	var old farm.Kept
	require.NoError(t, json.Unmarshal([]byte(`{"state":"unknown","blind":"holes","missing":["air temperature (missing in 12 of the next 48 hours)"]}`), &old))
	v, _ := old.AsJudged()
	assert.Contains(t, notice.Unseen(s, v), "air temperature (missing in 12 of the next 48 hours)")
	body, err := json.Marshal(old)
	require.NoError(t, err)
	var again farm.Kept
	require.NoError(t, json.Unmarshal(body, &again))
	assert.Equal(t, old, again, "and is kept so")
	var sight notice.Sight
	require.NoError(t, json.Unmarshal([]byte(`{"reason":"none","trouble":["nws: 503 Service Unavailable",{"source":"metno","kind":"limited","says":"429 Too Many Requests"}]}`), &sight))
	assert.Equal(t, []string{"nws: 503 Service Unavailable", "MET Norway asks for fewer requests; it answered: “429 Too Many Requests”"}, notice.Troubles(s, sight.Trouble))
}
