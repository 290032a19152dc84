package main

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"winterstand/internal/app"
)

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version",
		Args:  only(0, "version takes none"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "winterstand %s, %s %s/%s\n", app.Version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return err
		},
	}
}
