package commands

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// CalendarSecret is the secret in the address of a farm's calendar, 160 random
// bits; a farm that has none gets one. Errors: store.ErrNotFound.
func (d Service) CalendarSecret(ctx context.Context, farmID int64) (string, error) {
	f, err := d.Books().Farm(ctx, farmID)
	if err != nil || f.CalendarSecret != "" {
		return f.CalendarSecret, err
	}
	err = d.write(ctx, func(w store.Writer) error {
		if f, err = w.Farm(ctx, farmID); err != nil || f.CalendarSecret != "" {
			return err
		}
		f.CalendarSecret = secret()
		return w.UpdateFarm(ctx, f)
	})
	return f.CalendarSecret, err
}

// RenewCalendar gives the calendar another address; the old one ends at once,
// for whoever has it. Errors: store.ErrNotFound, store.ErrChanged.
func (d Service) RenewCalendar(ctx context.Context, farmID int64, seen Seen) (f farm.Farm, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		if f, err = w.Farm(ctx, farmID); err != nil {
			return err
		}
		if err = unchanged(seen, f.Version); err != nil {
			return err
		}
		f.CalendarSecret = secret()
		if err = w.UpdateFarm(ctx, f); err != nil {
			return err
		}
		f.Version++
		return nil
	})
	return f, err
}
