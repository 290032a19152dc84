package notice_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
)

// What is missing travels as a value and is said in the reader's language.
func TestWhatIsMissingIsSaidToEveryReader(t *testing.T) {
	for _, s := range readers() {
		for _, kind := range farm.GapKinds() {
			assert.True(t, s.Book.Has("missing."+string(kind)), kind)
			assert.NotContains(t, notice.Missing(s, []farm.Gap{{What: kind, Hours: 7, Of: 48, Name: "x", Says: "y"}}), "{", kind)
		}
	}
	gaps := []farm.Gap{{What: farm.GapAir, Hours: 3, Of: 48}, {What: farm.GapRefused, Name: "windSpeed", Says: "unit furlong"}}
	es := readers()[1]
	es.Language = "es"
	assert.Equal(t, "air temperature (missing in 3 of the next 48 hours); layer windSpeed refused: unit furlong", notice.Missing(readers()[0], gaps))
	assert.Equal(t, "la temperatura del aire (falta en 3 de las próximas 48 horas); el dato windSpeed no se pudo aceptar: unit furlong", notice.Missing(es, gaps))
}
