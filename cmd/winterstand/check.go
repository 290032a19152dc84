package main

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"
)

func newCheck() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Validate the settings and print what is in force, secrets hidden",
		Args:  only(0, "check takes none"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := loadSettings(cmd, false)
			if err != nil {
				return err
			}
			if err := printSettings(cmd, s.Print(), asJSON); err != nil {
				return err
			}
			return bad(s.Validate())
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON instead of lines")
	return cmd
}

// printSettings prints "key = value" lines; one that is too wide goes on below.
func printSettings(cmd *cobra.Command, lines []string, asJSON bool) error {
	effective := map[string]string{}
	for _, line := range lines {
		key, value, _ := strings.Cut(line, " = ")
		effective[key] = value
		if utf8.RuneCountInString(line) > columns {
			line = key + " =\n" + wrapped(value, "    ", columns)
		}
		if !asJSON {
			fmt.Fprintln(cmd.OutOrStdout(), strings.TrimRight(line, " "))
		}
	}
	if asJSON {
		return printJSON(cmd.OutOrStdout(), effective)
	}
	return nil
}
