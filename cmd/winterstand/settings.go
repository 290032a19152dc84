package main

import (
	"context"
	"log/slog"
	"os"
	"time"

	"github.com/spf13/cobra"

	"winterstand/internal/app"
	"winterstand/internal/outside/settings"
)

const defaultSettings = "winterstand.toml"

// loadSettings reads the file and the environment; validated says whether every
// value must be able to work, as for serving.
func loadSettings(cmd *cobra.Command, validated bool) (settings.Settings, error) {
	flag := cmd.Flag("settings")
	s, err := settings.Load(flag.Value.String(), flag.Changed, os.Environ())
	if err == nil && validated {
		err = s.Validate()
	}
	return s, bad(err)
}

// openService opens the database of the settings with everything wired.
func openService(ctx context.Context, s settings.Settings, log *slog.Logger) (*app.Service, error) {
	now, err := clock()
	if err != nil {
		return nil, err
	}
	kind, _, err := s.DatabaseKind()
	if err != nil {
		return nil, bad(err)
	}
	// An embedded database belongs to this program alone: it is brought up to
	// date as it is opened. A server's schema changes only by `migrate`.
	return app.New(ctx, app.Options{Settings: s, Migrate: kind == "sqlite", Now: now, Log: log})
}

// clock is the real one, or the one that the environment sets for a rehearsal.
func clock() (func() time.Time, error) {
	now, err := settings.Now(os.Environ())
	return now, bad(err)
}

func newLog(cmd *cobra.Command) *slog.Logger {
	return slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))
}
