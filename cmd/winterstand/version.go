package main

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"winterstand/internal/app"
)

func newVersion() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "version",
		Short: "Print the version",
		Args:  only(0, "version takes none"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if asJSON {
				return printJSON(cmd.OutOrStdout(), map[string]string{"version": app.Version, "go": runtime.Version(), "platform": runtime.GOOS + "/" + runtime.GOARCH})
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "winterstand %s, %s %s/%s\n", app.Version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON instead of a line")
	return cmd
}
