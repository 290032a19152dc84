package page

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/phrase"
	"winterstand/internal/service/commands"
)

var (
	saidKey  = regexp.MustCompile(`[sS]ay\(?\s*\(?"([a-z_]+\.[a-z_0-9]*[a-z0-9])"`)
	askedKey = regexp.MustCompile(`v\.ask\([a-zA-Z]+, .*?, "([a-z_]+)"\)`)
	rightKey = regexp.MustCompile(`"(right\.[a-z_]+|why\.[a-z_]+|due\.count_[a-z]+)"`)
	doneKey  = regexp.MustCompile(`done=([a-z_]+)|v\.to\([^"\n]*"[^"]*"[^"\n]*, "([a-z_]+)"\)`)
)

// Every phrase that code or a template names is there; a test of the phrases
// themselves says that each language has them all.
func TestEveryPhraseThePagesNameIsThere(t *testing.T) {
	book := phrase.MustLoad()
	found := 0
	has := func(file, key string) {
		found++
		assert.True(t, book.Has(key), "%s says %q", file, key)
	}
	for file, src := range sources(t) {
		for _, m := range saidKey.FindAllStringSubmatch(src, -1) {
			has(file, m[1])
		}
		for _, m := range askedKey.FindAllStringSubmatch(src, -1) {
			has(file, "label."+m[1])
		}
		for _, m := range rightKey.FindAllStringSubmatch(src, -1) {
			has(file, m[1])
		}
		for _, m := range doneKey.FindAllStringSubmatch(src, -1) {
			has(file, "done."+m[1]+m[2])
		}
	}
	assert.Greater(t, found, 300, "the patterns find what they look for")
	for _, r := range refusals {
		has("errors.go", "error."+r.phrase)
		has("errors.go", "error."+r.phrase+"_head")
	}
}

// Every word that a member may hold can be said.
func TestEveryChoiceCanBeSaid(t *testing.T) {
	book := phrase.MustLoad()
	for member, section := range map[string]string{"field.soil": "soil", "bed.purpose": "purpose", "cover.kind": "cover", "recipient.kinds": "kind", "room.kind": "room_kind",
		"lot.container": "container", "reading.quantity": "quantity", "farm.units": "units", "shift.day": "weekday", "answer.answer": "reply"} {
		for _, w := range commands.Choices[member] {
			key := section + "." + strings.ReplaceAll(w, "-", "_")
			assert.True(t, book.Has(key), "%s %s", member, key)
		}
	}
}

func sources(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, folder := range []string{".", "templates"} {
		entries, err := os.ReadDir(folder)
		require.NoError(t, err)
		for _, e := range entries {
			if e.IsDir() || strings.HasSuffix(e.Name(), "_test.go") {
				continue
			}
			src, err := os.ReadFile(folder + "/" + e.Name())
			require.NoError(t, err)
			out[e.Name()] = string(src)
		}
	}
	return out
}
