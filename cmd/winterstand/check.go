package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check",
		Short: "Validate the settings and print what is in force, secrets hidden",
		Args:  only(0, "check takes none"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := loadSettings(cmd, false)
			if err != nil {
				return err
			}
			for _, line := range s.Print() {
				fmt.Fprintln(cmd.OutOrStdout(), line)
			}
			return bad(s.Validate())
		},
	}
}
