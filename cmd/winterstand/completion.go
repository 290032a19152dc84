package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

func newCompletion() *cobra.Command {
	shells := []string{"bash", "zsh", "fish"}
	return &cobra.Command{
		Use:   "completion bash|zsh|fish",
		Short: "Print a script with which the shell completes commands",
		Long: `Prints a script that lets the shell complete commands, flags, and the names of
crops, covers and soils. Load it in the shell's start file:

  bash   source <(winterstand completion bash)
  zsh    source <(winterstand completion zsh)
  fish   winterstand completion fish | source`,
		ValidArgs: shells,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return bad(fmt.Errorf("name one shell: %s", strings.Join(shells, ", ")))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			root, out := cmd.Root(), cmd.OutOrStdout()
			switch args[0] {
			case "bash":
				return root.GenBashCompletionV2(out, true)
			case "zsh":
				return root.GenZshCompletion(out)
			case "fish":
				return root.GenFishCompletion(out, true)
			}
			return bad(fmt.Errorf("shell %q: must be one of %s", args[0], strings.Join(shells, ", ")))
		},
	}
}

// completeValues tells the shell what may stand after a flag, by its name: the
// same flag means the same in every command.
func completeValues(root *cobra.Command) {
	known := map[string]cobra.CompletionFunc{
		"crop": listed(cropNames), "cover": listed(names(microclimate.Covers())), "soil": fixed(names(microclimate.Soils())),
		"units": fixed(words(string(unit.US), string(unit.Metric))), "language": fixed(words(phrase.Languages()...)),
		"every": fixed(words("hour", "day")), "scope": fixed(words(farm.ScopeRead, farm.ScopeWrite)), "snow": fixed(words("given", "modelled")),
	}
	for _, cmd := range root.Commands() {
		for flag, values := range known {
			if cmd.Flags().Lookup(flag) != nil {
				// The flag is there and has no values yet: it cannot fail.
				_ = cmd.RegisterFlagCompletionFunc(flag, values)
			}
		}
		if cmd.Name() == "crops" {
			cmd.ValidArgsFunction = fixed(cropNames)
		}
	}
}

type values func() []string

func words(list ...string) values { return func() []string { return list } }

func names[T ~string](keys []T) values {
	return func() []string {
		out := make([]string, len(keys))
		for i, k := range keys {
			out[i] = string(k)
		}
		return out
	}
}

func cropNames() []string {
	catalogue, err := crop.Default()
	if err != nil {
		return nil
	}
	var out []string
	for _, c := range catalogue.All() {
		out = append(out, c.Name)
	}
	return out
}

// fixed completes one of the values.
func fixed(v values) cobra.CompletionFunc {
	return func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		return beginning(v(), typed), cobra.ShellCompDirectiveNoFileComp
	}
}

// listed completes the last of several values with commas between.
func listed(v values) cobra.CompletionFunc {
	return func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		before := typed[:strings.LastIndexByte(typed, ',')+1]
		var out []string
		for _, name := range v() {
			out = append(out, before+name)
		}
		return beginning(out, typed), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace
	}
}

// beginning keeps the values that begin as typed.
func beginning(all []string, typed string) []string {
	return slices.DeleteFunc(slices.Clone(all), func(v string) bool { return !strings.HasPrefix(v, typed) })
}
