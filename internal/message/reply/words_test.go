package reply

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/phrase"
	"winterstand/internal/message/phrase/phrasetest"
)

// with is the English file and a copy in which one thing is another.
func with(t *testing.T, from, to string) *phrase.Book {
	t.Helper()
	src, err := os.ReadFile("../phrase/en.toml")
	require.NoError(t, err)
	require.Contains(t, string(src), from)
	b, err := phrase.Read(fstest.MapFS{"en.toml": {Data: src}, "xx.toml": {Data: []byte(strings.Replace(string(src), from, to, 1))}})
	require.NoError(t, err)
	return b
}

func TestALanguageWhoseWordsCollideIsRefused(t *testing.T) {
	for _, c := range []struct{ from, to, says string }{
		{`seen = "SEEN"`, `seen = "visto covered"`, `phrases xx.toml: answer_words.seen: COVERED is listed as "covered" too; a word is one thing in all languages`},
		{`leave_it = "LEAVE"`, `leave_it = "stop"`, `answer_words.leave_it: STOP is listed as "stop" too`},
		{`stop_alone = "CANCEL`, `stop_alone = "seen`, `SEEN is listed as "seen" too`},
		{`filler = "ALL`, `filler = "Help`, `HELP is listed as "help" too`},
		{`filler = "ALL`, `filler = "Kg`, `KG is listed as "kilogram" too`},
		{`and = "AND"`, `and = "bed"`, `BED is listed as`},
		{`bed = "BED BEDS"`, `bed = "harvested"`, `HARVESTED is listed as "harvested" too`},
		{`covered = "COVERED"`, `covered = " "`, `phrases xx.toml: answer_words.covered: names no word`},
		{`covered = "COVERED"`, `covered = "cover-ed"`, `"cover-ed" must be one word of letters`},
		{`covered = "COVERED"`, `covered = "un/covered"`, `"un/covered" must be one word of letters`},
		{`covered = "COVERED"`, `covered = "2"`, `"2" must be one word of letters`},
	} {
		_, err := Read(with(t, c.from, c.to))
		assert.ErrorContains(t, err, c.says, c.to)
	}
	_, err := Read(with(t, `covered = "COVERED"`, `covered = "COVERED bedeckt"`))
	assert.NoError(t, err, "a word that means the same in two languages")
}

func TestTheWordsOfEveryLanguageAreUnderstood(t *testing.T) {
	v, err := Read(phrasetest.Book(t))
	require.NoError(t, err)
	for text, want := range map[string]Word{"ЖЖharvested": Harvested, "жжcovered, жжthanks": Covered, "ЖЖSTOP": Stop, "ЖЖquit": Stop, "quit": Stop,
		"жжcancel harvested": Unknown, "ЖЖhelp": Help, "Cubierto": Covered, "жжseen 🥕": Seen} {
		assert.Equal(t, want, v.Parse(text, "", nil).Word, text)
	}
	m := v.Parse("жжharvested жжbed 4, 40 жжkg", "", []string{"4"})
	assert.Equal(t, Harvested, m.Word)
	assert.InDelta(t, 40, m.Kg.Else(0), 1e-9)
	assert.Equal(t, [][]int{{0}}, m.Beds)
}

var capitals = regexp.MustCompile(`\p{Lu}{2,}`)

// What the messages ask people to write is read when they do.
func TestWhatMessagesAskForIsUnderstood(t *testing.T) {
	b := phrase.MustLoad()
	for _, language := range b.Languages() {
		named := map[Word]bool{}
		for _, key := range []string{"body.reply", "sms.reply", "text.which", "text.unclear", "text.nothing", "text.stop", "text.start", "text.help", "text.numbered"} {
			for _, w := range capitals.FindAllString(b.Say(language, key, nil), -1) {
				assert.NotEmpty(t, understood[tokenize(w)[0]], "%s.toml, %s: %s", language, key, w)
				named[understood.meaning(tokenize(w)[0])] = true
			}
		}
		for _, w := range meanings {
			assert.True(t, named[w], "%s.toml asks nowhere for %q", language, w)
		}
		numbered := tokenize(b.Say(language, "text.numbered", phrase.Args{"bed": "4"}))
		assert.Equal(t, [][]int{{0}}, understood.Parse("harvested "+strings.Join(numbered, " "), "", []string{"4"}).Beds, language)
		assert.True(t, slices.Contains(numbered, "4"))
	}
}
