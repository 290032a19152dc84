package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// columns is how wide everything for people is.
const columns = 80

const about = `winterstand watches beds that stand in the ground into the cold. From a public
forecast it works out by when each bed must be harvested, tells people by mail
and text message, and says why. It supplements official warnings and your own
look at the sky; it never replaces them.

Begin with one of these:
  winterstand demo     an invented farm on this machine, nothing to set up
  winterstand check    what the settings say, and what is still missing
  winterstand serve    run it`

// usage is cobra's own layout in our words, flags wrapped.
const usage = `Usage:{{if .HasAvailableSubCommands}}
  {{.CommandPath}} COMMAND{{else}}
  {{.UseLine}}{{end}}{{if .HasAvailableSubCommands}}{{$all := .Commands}}{{range $group := .Groups}}

{{.Title}}{{range $all}}{{if and (eq .GroupID $group.ID) .IsAvailableCommand}}
  {{rpad .Name 12}}{{.Short}}{{end}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{.LocalFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

For every command:
{{.InheritedFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableSubCommands}}

"winterstand COMMAND --help" says more about a command.{{end}}
`

var groups = []struct {
	id, title string
	commands  string
}{
	{"try", "Getting to know it:", "demo crops season replay"},
	{"run", "Running it:", "check migrate token serve round skill"},
	{"more", "More:", "validate completion version help"},
}

// explain gives the program its help, commands in groups, and an error for a
// command that there is not.
func explain(root *cobra.Command) {
	root.Long = about
	cobra.AddTemplateFunc("reflow", reflow)
	root.SetHelpTemplate("{{with or .Long .Short}}{{. | reflow}}\n\n{{end}}{{.UsageString}}")
	root.SetUsageTemplate(usage)
	root.SuggestionsMinimumDistance = 2
	root.CompletionOptions.DisableDefaultCmd = true
	root.SetHelpCommand(newHelp(root))
	root.InitDefaultHelpCmd()
	for _, g := range groups {
		root.AddGroup(&cobra.Group{ID: g.id, Title: g.title})
		for _, c := range root.Commands() {
			if strings.Contains(" "+g.commands+" ", " "+c.Name()+" ") {
				c.GroupID = g.id
			}
		}
	}
	root.Args = cobra.ArbitraryArgs
	root.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return unknownCommand(root, args[0])
		}
		return cmd.Help()
	}
}

func unknownCommand(root *cobra.Command, name string) error {
	near := root.SuggestionsFor(name)
	if len(near) == 0 {
		return bad(fmt.Errorf("%q is no command; winterstand --help lists them", name))
	}
	return bad(fmt.Errorf("%q is no command; did you mean %s?", name, strings.Join(near, " or ")))
}

func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "What a command does",
		Args:  only(1, "name one command"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return root.Help()
			}
			for _, c := range root.Commands() {
				if c.Name() == args[0] {
					return c.Help()
				}
			}
			return unknownCommand(root, args[0])
		},
		ValidArgsFunction: fixed(func() (names []string) {
			for _, c := range root.Commands() {
				names = append(names, c.Name())
			}
			return names
		}),
	}
}
