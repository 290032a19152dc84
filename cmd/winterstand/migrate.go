package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"winterstand/internal/app"
	"winterstand/internal/outside/settings"
)

func newMigrate() *cobra.Command {
	return &cobra.Command{
		Use:   "migrate",
		Short: "Bring the schema of the database up to date",
		Args:  only(0, "migrate takes none"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := loadSettings(cmd, false)
			if err != nil {
				return err
			}
			if err := knownDatabase(s); err != nil {
				return err
			}
			if err := app.Migrate(cmd.Context(), s); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "The schema is up to date.")
			return nil
		},
	}
}

// openBook opens only the books, for commands that neither poll nor send.
func openBook(cmd *cobra.Command, s settings.Settings) (*app.Books, error) {
	if err := knownDatabase(s); err != nil {
		return nil, err
	}
	now, err := clock()
	if err != nil {
		return nil, err
	}
	return app.OpenBooks(cmd.Context(), s, now)
}

// knownDatabase: a database that is named wrongly is the user's to mend, one
// that cannot be opened is a failure.
func knownDatabase(s settings.Settings) error {
	if _, _, err := s.DatabaseKind(); err != nil {
		return bad(fmt.Errorf("settings database: %w", err))
	}
	return nil
}
