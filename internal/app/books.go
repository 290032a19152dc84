package app

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/outside/settings"
	"winterstand/internal/service/commands"
)

// Books are the database and its commands alone: nothing is polled or sent.
type Books struct {
	commands.Service
	book *book
}

// OpenBooks opens the database of the settings. An embedded one is brought up
// to date as it is opened.
func OpenBooks(ctx context.Context, s settings.Settings, now func() time.Time) (*Books, error) {
	kind, _, err := s.DatabaseKind()
	if err != nil {
		return nil, fmt.Errorf("settings database: %w", err)
	}
	b, err := openBook(ctx, s, kind == "sqlite")
	if err != nil {
		return nil, err
	}
	catalogue, err := crop.Default()
	if err != nil {
		return nil, fmt.Errorf("crop catalogue: %w", err)
	}
	return &Books{Service: commands.Service{Store: b.Store, Catalogue: catalogue, Now: now}, book: b}, nil
}

// Close ends the connections.
func (b *Books) Close() error { return b.book.Close() }

// Migrate brings the schema of the settings' database up to date.
func Migrate(ctx context.Context, s settings.Settings) error {
	b, err := openBook(ctx, s, true)
	if err != nil {
		return err
	}
	return b.Close()
}
