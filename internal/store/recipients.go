package store

import (
	"context"

	"winterstand/internal/farm"
)

// RecipientReader finds the people who are told.
type RecipientReader interface {
	Recipient(ctx context.Context, farmID, id int64) (farm.Recipient, error)
	Recipients(ctx context.Context, farmID int64, page Page) ([]farm.Recipient, error)
	RecipientsByPhone(ctx context.Context, phone string) ([]farm.Recipient, error)
	RecipientsByEmail(ctx context.Context, email string) ([]farm.Recipient, error)
}

// RecipientWriter changes them.
type RecipientWriter interface {
	AddRecipient(ctx context.Context, r farm.Recipient) (int64, error)
	UpdateRecipient(ctx context.Context, r farm.Recipient) error
}
