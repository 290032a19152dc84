// Package phrasetest makes up a language, for tests that nothing people read is
// said anywhere but in the phrase files.
package phrasetest

import (
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/pelletier/go-toml/v2"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/phrase"
)

// Language is the one that is made up: every piece of every English phrase
// stands in square brackets, what fills the braces stands outside of them.
const Language = "xx"

// Book holds the languages there are and the one that is made up: a copy of
// en.toml with other right-hand sides, read as any file.
func Book(t testing.TB) *phrase.Book {
	t.Helper()
	_, here, _, _ := runtime.Caller(0)
	all := fstest.MapFS{}
	paths, err := filepath.Glob(filepath.Join(filepath.Dir(here), "..", "*.toml"))
	require.NoError(t, err)
	for _, p := range paths {
		src, err := os.ReadFile(p)
		require.NoError(t, err)
		all[filepath.Base(p)] = &fstest.MapFile{Data: src}
	}
	all[Language+".toml"] = &fstest.MapFile{Data: translate(t, all[phrase.Fallback+".toml"].Data)}
	book, err := phrase.Read(all)
	require.NoError(t, err)
	return book
}

func translate(t testing.TB, src []byte) []byte {
	var sections map[string]map[string]string
	require.NoError(t, toml.Unmarshal(src, &sections))
	for section, phrases := range sections {
		for key, text := range phrases {
			if section == "answer_words" {
				phrases[key] = foreign(text)
				continue
			}
			phrases[key] = bracket(text)
		}
	}
	out, err := toml.Marshal(sections)
	require.NoError(t, err)
	return out
}

// foreign makes words of a list that no language has: people answer in their own.
func foreign(list string) string {
	words := strings.Fields(list)
	for i, w := range words {
		words[i] = "ЖЖ" + w
	}
	return strings.Join(words, " ")
}

var braces = regexp.MustCompile(`\{[a-z_]+\}`)

// bracket puts what stands between braces into brackets.
func bracket(text string) string {
	var b strings.Builder
	at := 0
	for _, m := range append(braces.FindAllStringIndex(text, -1), []int{len(text), len(text)}) {
		if piece := text[at:m[0]]; strings.TrimSpace(piece) != "" {
			b.WriteString("[" + strings.NewReplacer("[", "(", "]", ")").Replace(piece) + "]")
		} else {
			b.WriteString(piece)
		}
		b.WriteString(text[m[0]:m[1]])
		at = m[1]
	}
	return b.String()
}

var (
	said   = regexp.MustCompile(`(?s)\[[^\[\]]*\]`)
	words  = regexp.MustCompile(`\p{L}+`)
	places = regexp.MustCompile(`https?://\S+|[\w.+-]+@[\w.-]+`)
)

// units and zones that numbers carry in every language.
var units = strings.Fields("C F K h ft in lb kg cm m km W am pm UTC CST CDT Z USD EUR")

// Stray lists the words of a text that no phrase said and that are no data: not
// an address, not a unit, and not among the given names.
func Stray(text string, names ...string) []string {
	text = places.ReplaceAllString(said.ReplaceAllString(text, " "), " ")
	for _, name := range byLength(names) {
		text = strings.ReplaceAll(text, name, " ")
	}
	return slices.DeleteFunc(words.FindAllString(text, -1), func(w string) bool { return slices.Contains(units, w) })
}

// byLength: "North field" goes before "North".
func byLength(names []string) []string {
	sorted := slices.Clone(names)
	slices.SortFunc(sorted, func(a, b string) int { return len(b) - len(a) })
	return sorted
}
