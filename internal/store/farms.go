package store

import (
	"context"
	"time"

	"winterstand/internal/farm"
)

// FarmReader finds the accounts and who may use them.
type FarmReader interface {
	Farm(ctx context.Context, id int64) (farm.Farm, error)
	FarmByName(ctx context.Context, name string) (farm.Farm, error)
	FarmByCalendar(ctx context.Context, secret string) (farm.Farm, error)
	Farms(ctx context.Context, page Page) ([]farm.Farm, error)
	Token(ctx context.Context, hash string) (farm.Token, error) // revoked: ErrNotFound
}

// FarmWriter changes them.
type FarmWriter interface {
	AddFarm(ctx context.Context, f farm.Farm) (int64, error) // ErrExists: the name is taken
	UpdateFarm(ctx context.Context, f farm.Farm) error
	AddToken(ctx context.Context, t farm.Token) error
	RevokeToken(ctx context.Context, hash string, at time.Time) error
}
