package main

import (
	"net"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func commandNames() []string {
	var names []string
	for _, c := range newRoot().Commands() {
		names = append(names, c.Name())
	}
	return names
}

func TestAnUnknownFlagIsNamedByEveryCommand(t *testing.T) {
	for _, name := range append(commandNames(), "") {
		code, out, errOut := told(strings.Fields(name + " --no-such-flag")...)
		assert.Equal(t, exitBadInput, code, name)
		assert.Contains(t, errOut, "--no-such-flag", name)
		assert.Empty(t, out, name)
	}
}

func TestAnArgumentTooManyIsNamedByEveryCommand(t *testing.T) {
	for _, name := range commandNames() {
		code, out, errOut := told(name, "one", "two", "three")
		assert.Equal(t, exitBadInput, code, name)
		assert.NotEmpty(t, errOut, name)
		assert.Empty(t, out, name)
	}
}

func TestExitCodes(t *testing.T) {
	settings := contacts(t)
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = taken.Close() })
	busy := written(t, "busy.toml", "listen = \""+taken.Addr().String()+"\"\ndatabase = \"sqlite:"+filepath.Join(t.TempDir(), "b.db")+"\"\n[forecast.nws]\ncontact = \"a@example.org\"\n[forecast.metno]\ncontact = \"a@example.org\"\n")
	nowhere := written(t, "n.toml", "database = \"sqlite:"+filepath.Join(t.TempDir(), "no", "such", "folder", "b.db")+"\"\n")
	for _, c := range []struct {
		args string
		code int
		says string
	}{
		{"version", 0, ""},
		{"check -s " + settings, 0, ""},
		{"fork", exitBadInput, `"fork" is no command`},
		{"croops", exitBadInput, "did you mean crops?"},
		{"help fork", exitBadInput, `"fork" is no command`},
		{"completion", exitBadInput, "bash, zsh, fish"},
		{"completion tcsh", exitBadInput, "bash, zsh, fish"},
		{"crops granite", exitBadInput, "granite"},
		{"crops --units si", exitBadInput, "us or metric"},
		{"demo --json", exitBadInput, "--once"},
		{"demo --hour soon", exitBadInput, "--hour"},
		{"token -s " + settings, exitBadInput, "farm"},
		{"token --farm Hill --scope all -s " + settings, exitBadInput, "scope"},
		{"skill --farm Nobody -s " + settings, exitBadInput, "Nobody"},
		{"check -s " + filepath.Join(t.TempDir(), "none.toml"), exitBadInput, "none.toml"},
		{"check -s " + written(t, "typo.toml", "listn = \"x\"\n"), exitBadInput, "typo.toml:1: unknown key \"listn\""},
		{"serve -s " + written(t, "bare.toml", ""), exitBadInput, "contact"},
		{"migrate -s " + written(t, "odd.toml", "database = \"mysql://x\"\n"), exitBadInput, "sqlite:PATH"},
		{"token --farm Hill -s " + written(t, "odd.toml", "database = \"mysql://x\"\n"), exitBadInput, "sqlite:PATH"},
		{"migrate -s " + nowhere, exitFailure, ""},
		{"serve -s " + busy, exitFailure, "address already in use"},
	} {
		code, _, errOut := told(strings.Fields(c.args)...)
		assert.Equal(t, c.code, code, "%s: %s", c.args, errOut)
		assert.Contains(t, errOut, c.says, c.args)
		assert.NotContains(t, errOut, "goroutine", c.args)
		if c.code != 0 {
			assert.True(t, strings.HasPrefix(errOut, "winterstand: ") || strings.Contains(errOut, "\nwinterstand: "), errOut)
		}
	}
}

func TestCompletionScripts(t *testing.T) {
	for shell, has := range map[string]string{"bash": "__start_winterstand", "zsh": "#compdef winterstand", "fish": "complete -c winterstand"} {
		code, out, errOut := told("completion", shell)
		assert.Equal(t, 0, code, errOut)
		assert.Contains(t, out, has)
	}
}

// completed are the values that the shell is given, and what it is to do then.
func completed(t *testing.T, args ...string) ([]string, string) {
	t.Helper()
	code, out, _ := told(append([]string{cobra.ShellCompRequestCmd}, args...)...)
	require.Equal(t, 0, code)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	return lines[:len(lines)-1], lines[len(lines)-1]
}

func TestNamesAreCompleted(t *testing.T) {
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{"replay", "--crop", "ka"}, []string{"kale-curly", "kale-red-russian"}},
		{[]string{"season", "--crop", "chard,ka"}, []string{"chard,kale-curly"}},
		{[]string{"season", "--cover", "none,low"}, []string{"none,low_tunnel", "none,low_tunnel_fabric"}},
		{[]string{"crops", "par"}, []string{"parsley", "parsnip"}},
		{[]string{"replay", "--soil", ""}, []string{"loam", "peat"}},
		{[]string{"replay", "--every", ""}, []string{"hour", "day"}},
		{[]string{"token", "--scope", ""}, []string{"read", "write"}},
		{[]string{"crops", "--units", ""}, []string{"us", "metric"}},
		{[]string{"completion", ""}, []string{"bash", "zsh", "fish"}},
		{[]string{"help", "se"}, []string{"season", "serve"}},
	} {
		got, _ := completed(t, c.args...)
		for _, want := range c.want {
			assert.Contains(t, got, want, c.args)
		}
	}
	got, _ := completed(t, "replay", "--crop", "zzz")
	assert.Empty(t, got)
}
