package commands

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/message/phrase/phrasetest"
)

// What is wrong with a number is said by the phrases alone, whatever the language.
func TestRangesAreSaidByThePhrasesAlone(t *testing.T) {
	b := phrasetest.Book(t)
	for key, r := range Limits {
		text := b.Tell(phrasetest.Language, r.line())
		assert.Empty(t, phrasetest.Stray(text), "%s: %s", key, text)
	}
	assert.Empty(t, phrasetest.Stray(b.Tell(phrasetest.Language, reason("no_number", "range", Limits["lot.kg"].line()))))
}
