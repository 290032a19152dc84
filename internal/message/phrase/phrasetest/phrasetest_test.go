package phrasetest

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/message/phrase"
)

func TestOnlyWhatAPhraseSaidIsInBrackets(t *testing.T) {
	b := Book(t)
	said := b.Say(Language, "unseen.holes", phrase.Args{"missing": "dew point"})
	assert.Equal(t, "[Missing: ]dew point[.]", said)
	assert.Equal(t, []string{"dew", "point"}, Stray(said), "English that fills a brace is no translation")
	assert.Empty(t, Stray("[Harvest ]B4 [(]Hill Farm[) before ]4:30 pm CST, 12 °F https://farm.test/a?b=c", "B4", "Hill Farm"))
	assert.Equal(t, []string{"es"}, Stray("es", "en"))
	assert.Contains(t, b.Languages(), Language)
}
