package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// contacts are settings with which every value can work.
func contacts(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("", "ws") // a short name: it is printed
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return written(t, "winterstand.toml", fmt.Sprintf("database = %q\n[forecast.nws]\ncontact = \"grower@example.org\"\n[forecast.metno]\ncontact = \"grower@example.org\"\n",
		"sqlite:"+filepath.Join(folder, "book.db")))
}

func TestWhatPeopleReadFitsAScreenAndHasNoColour(t *testing.T) {
	settings, history := contacts(t), written(t, "h.csv", twoWinters())
	listings := [][]string{
		{}, {"crops"}, {"crops", "--units", "metric"}, {"version"}, {"check", "-s", settings}, {"skill", "-s", settings}, {"skill", "-s", settings, "--units", "metric"},
		{"season", "--history", history}, {"season", "--history", history, "--units", "metric", "--language", "es"},
	}
	for _, c := range newRoot().Commands() {
		listings = append(listings, []string{c.Name(), "--help"}, []string{"help", c.Name()})
	}
	for _, name := range cropNames() {
		listings = append(listings, []string{"crops", name}, []string{"crops", name, "--units", "metric", "--language", "es"})
	}
	for _, args := range listings {
		code, out, errOut := told(args...)
		require.Equal(t, 0, code, "%v: %s", args, errOut)
		require.NotEmpty(t, out, args)
		for line := range strings.SplitSeq(out, "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), columns, "%v: %s", args, line)
		}
		assert.NotContains(t, out, "\x1b", args)
		assert.NotContains(t, out, "\r", "%v: progress is for a terminal", args)
		assert.Empty(t, strings.Trim(errOut, "\n"), args)
	}
}

func TestEveryListingIsThereForProgramsToo(t *testing.T) {
	settings, history := contacts(t), written(t, "h.csv", twoWinters())
	for _, args := range [][]string{
		{"crops"}, {"crops", "chard"}, {"version"}, {"check", "-s", settings}, {"skill", "-s", settings}, {"season", "--history", history, "--crop", "chard"},
	} {
		code, out, errOut := told(append(args, "--json")...)
		require.Equal(t, 0, code, "%v: %s", args, errOut)
		assert.True(t, json.Valid([]byte(out)), "%v: %s", args, out)
	}
	for _, c := range []string{"round", "validate"} {
		cmd, _, err := newRoot().Find([]string{c})
		require.NoError(t, err)
		assert.NotNil(t, cmd.Flags().Lookup("json"), c)
	}
}

func TestHelpSaysWhatToBeginWith(t *testing.T) {
	_, out, _ := told("--help")
	for _, want := range []string{"by when each bed must be harvested", "winterstand demo", "Getting to know it:", "never replaces"} {
		assert.Contains(t, out, want)
	}
	for _, c := range newRoot().Commands() {
		if c.Name() != "help" {
			assert.Contains(t, out, "\n  "+c.Name()+" ", "every command stands in a group")
		}
	}
	_, bare, _ := told()
	assert.Equal(t, out, bare)
}

func TestReflow(t *testing.T) {
	long := strings.Repeat("word ", 40)
	got := reflow(long + "\nmore\n\n  as it is   here\n" + long)
	for line := range strings.SplitSeq(got, "\n") {
		assert.LessOrEqual(t, len(line), columns)
	}
	assert.Contains(t, got, "\n\n  as it is   here\n")
	assert.Equal(t, 81, strings.Count(got, "word")+strings.Count(got, "more"))
	assert.Equal(t, strings.Repeat("x", 90), reflow(strings.Repeat("x", 90)), "a long word stays whole")
}
