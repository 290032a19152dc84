package inbound

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/phrase/phrasetest"
	"winterstand/internal/store"
)

// Who reads a language that only a phrase file knows answers in its words and
// reads nothing else.
func TestRepliesAreReadAndSaidByThePhrasesAlone(t *testing.T) {
	l := newLine(t)
	ann := l.ann()
	ann.Language = phrasetest.Language
	require.NoError(t, l.store.Write(t.Context(), func(w store.Writer) error { return w.UpdateRecipient(t.Context(), ann) }))
	nothing := l.says("ЖЖseen")
	a1, four, same := l.bed("A1"), l.bed("4"), l.bed("4")
	l.sent(ann, four, a1, same) // the example names the first
	heard := []string{nothing}
	for _, text := range []string{"mumble", "ЖЖharvested 4 ЖЖkg", "ЖЖcovered A1", "ЖЖseen A1", "ЖЖleave A1", "ЖЖharvested A1 40 ЖЖkg", "ЖЖharvested ЖЖbed 4",
		"ЖЖharvested A1", "ЖЖharvested A1", "ЖЖhelp", "ЖЖstop", "ЖЖstart"} {
		said := l.says(text)
		require.NotEmpty(t, said, text)
		heard = append(heard, said)
	}
	assert.True(t, l.now(a1).ClearedAt.Known(), "understood")
	for _, text := range heard {
		assert.Empty(t, phrasetest.Stray(text, "Hill Farm", "A1", "KG"), text)
	}
}
