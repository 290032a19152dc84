// Package commands is where the books are kept: it takes what a person or a
// program hands in, says plainly what is wrong with it, and writes what is
// right in one transaction together with the work that follows from it. The
// HTTP interface and the pages both come here.
package commands

import (
	"context"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Catalogue is what the commands asks about crops.
type Catalogue interface {
	// Find gives an entry by a name of it; where there is none, the error names
	// the nearest.
	Find(name string) (crop.Crop, error)
	// All entries, in the order they are shown.
	All() []crop.Crop
}

// Service keeps the books. Its methods may be called from many goroutines.
// Errors: *Invalid for an input that is wrong, *Refused for one that does not
// fit what stands, and the sentinels of store; anything else is a failure of the
// store.
type Service struct {
	Store     store.Store
	Catalogue Catalogue
	Now       func() time.Time
	// Filled is told, in the transaction, of every room whose load or capacity
	// has changed; may be nil.
	Filled func(ctx context.Context, w store.Writer, farmID, roomID int64) error

	tx *store.Writer // set: every method works inside this transaction
}

// Within is the same inside a transaction that the caller has begun, so
// that what it writes stands or falls with the caller's own entries.
func (d Service) Within(w store.Writer) Service {
	d.tx = &w
	return d
}

// Books is where to read: the transaction, or the store outside of one.
func (d Service) Books() store.Reader {
	if d.tx != nil {
		return d.tx.Reader
	}
	return d.Store.Reader
}

// Write runs fn in the transaction that the commands is inside of, or in one of its
// own.
func (d Service) Write(ctx context.Context, fn func(store.Writer) error) error {
	return d.write(ctx, fn)
}

func (d Service) write(ctx context.Context, fn func(store.Writer) error) error {
	if d.tx != nil {
		return fn(*d.tx)
	}
	return d.Store.Write(ctx, fn)
}

// now is rounded down to the second, as the books keep it.
func (d Service) now() time.Time { return d.Now().UTC().Truncate(time.Second) }

// Seen is the version that somebody saw before asking for a change; missing:
// they did not say.
type Seen = unit.Maybe[int64]

func unchanged(seen Seen, version int64) error {
	if v, ok := seen.Get(); ok && v != version {
		return fmt.Errorf("version %d was seen, %d stands: %w", v, version, store.ErrChanged)
	}
	return nil
}

// judgeField asks for the field's beds to be judged again.
func judgeField(ctx context.Context, w store.Writer, f store.Field) error {
	if f.CellID == 0 {
		return w.Enqueue(ctx, store.Job{FieldID: f.ID})
	}
	return w.Enqueue(ctx, store.Job{CellID: f.CellID})
}

// place is a field with where it lies.
type place struct {
	store.Field
	at farm.Place
}

func (d Service) place(ctx context.Context, r store.Reader, farmID, fieldID int64) (place, error) {
	f, err := r.Field(ctx, farmID, fieldID)
	if err != nil {
		return place{}, err
	}
	at, err := store.PlaceOf(ctx, r, f)
	return place{f, at}, err
}

// placeFinder finds fields of a farm, each looked up once.
type placeFinder func(fieldID int64) (place, error)

func (d Service) placeFinder(ctx context.Context, r store.Reader, farmID int64) placeFinder {
	found := map[int64]place{}
	return func(id int64) (place, error) {
		if p, ok := found[id]; ok {
			return p, nil
		}
		p, err := d.place(ctx, r, farmID, id)
		if err == nil {
			found[id] = p
		}
		return p, err
	}
}

func (p place) today(now time.Time) farm.Day { return farm.DayOf(now, p.at.Zone) }

// known turns a missing entry that an input names into a problem of that input.
func (c *check) known(field, what string, id int64, err error) error {
	if errors.Is(err, store.ErrNotFound) {
		c.bad(field, "no_such_"+what, "id", id)
		return nil
	}
	return err
}
