// Package plan reads the book and asks the pure packages what it adds up to:
// how long the lots keep, which bed to lift when, what there will be to sell
// until June, how the verdicts did, what past winters did. It changes nothing
// but the season outlook that it is asked to remember.
package plan

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/store"
)

// Catalogue finds crops by name.
type Catalogue interface {
	Find(name string) (crop.Crop, error)
}

// Reader answers for one book. Its methods may be called from many goroutines;
// store.ErrNotFound: there is no such farm.
type Reader struct {
	Books     store.Reader
	Catalogue Catalogue
	Keeping   *keeping.Book // nil: the table inside the program
	Now       func() time.Time
}

// Within reads through a transaction.
func (l Reader) Within(r store.Reader) Reader {
	l.Books = r
	return l
}

func (l Reader) now() time.Time { return l.Now().UTC().Truncate(time.Second) }

func (l Reader) table() (*keeping.Book, error) {
	if l.Keeping != nil {
		return l.Keeping, nil
	}
	return keeping.Default()
}

// farmState is what stands on a farm with what was judged of it.
type farmState struct {
	farm     farm.Farm
	now      time.Time
	zone     *time.Location // of what is the whole farm's
	fields   map[int64]farm.Field
	places   map[int64]farm.Place // by field
	beds     []farm.Bed
	verdicts map[int64]store.Verdict
	crops    map[string]crop.Crop // of the beds, by the key in the book
}

// verdict of a bed as it may be believed now.
func (s farmState) verdict(b farm.Bed) farm.Verdict { return s.verdicts[b.ID].Kept.At(s.now, s.farm) }

func (l Reader) farmState(ctx context.Context, farmID int64) (s farmState, err error) {
	if s.farm, err = l.Books.Farm(ctx, farmID); err != nil {
		return s, fmt.Errorf("farm %d: %w", farmID, err)
	}
	s.now = l.now()
	if s.zone, err = store.ZoneOf(ctx, l.Books, s.farm); err != nil {
		return s, err
	}
	fields, err := l.Books.Fields(ctx, farmID, store.Page{})
	if err != nil {
		return s, fmt.Errorf("fields of farm %d: %w", farmID, err)
	}
	s.fields, s.places = map[int64]farm.Field{}, map[int64]farm.Place{}
	for _, f := range fields {
		s.fields[f.ID] = f.Field
		if s.places[f.ID], err = store.PlaceOf(ctx, l.Books, f); err != nil {
			return s, err
		}
	}
	if s.beds, err = l.Books.Beds(ctx, farmID, store.BedFilter{}); err != nil {
		return s, fmt.Errorf("beds of farm %d: %w", farmID, err)
	}
	if s.verdicts, err = l.Books.Verdicts(ctx, farmID); err != nil {
		return s, fmt.Errorf("verdicts of farm %d: %w", farmID, err)
	}
	s.crops = map[string]crop.Crop{}
	for _, b := range s.beds {
		if c, err := l.Catalogue.Find(b.Crop); err == nil {
			s.crops[b.Crop] = c
		}
	}
	return s, nil
}

// place of a bed.
func (s farmState) place(b farm.Bed) farm.Place { return s.places[b.FieldID] }

// today where a bed lies.
func (s farmState) today(b farm.Bed, now time.Time) farm.Day { return farm.DayOf(now, s.place(b).Zone) }
