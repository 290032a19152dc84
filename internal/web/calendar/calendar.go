// Package calendar writes a farm's deadlines as a calendar that other programs
// read (RFC 5545): an entry a danger, moved when it moves and cancelled when it
// has gone. Such programs ask when they like and many show no alarms of a
// calendar they only read: it is a convenience, never the way people are alerted.
package calendar

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
)

// Book is what the calendar reads; store says what each promises.
type Book interface {
	FarmByCalendar(ctx context.Context, secret string) (farm.Farm, error)
	Notices(ctx context.Context, farmID int64, f store.NoticeFilter) ([]store.Notice, error)
	Answers(ctx context.Context, farmID, noticeID int64) ([]farm.Answer, error)
	Bed(ctx context.Context, farmID, id int64) (farm.Bed, error)
	Lot(ctx context.Context, farmID, id int64) (farm.Lot, error)
}

// Event is one entry.
type Event struct {
	UID         string
	Sequence    int // rises with every change that people can see
	Created     time.Time
	Modified    time.Time
	Cancelled   bool
	Start, End  time.Time
	Days        bool // Start and End are whole days, End exclusive
	Summary     string
	Description []string // paragraphs
	Location    string
	Link        string
	Alarms      []time.Duration // before Start
}

// An entry is shown for so long after it has ended or was last changed; a
// cancelled one must stay long enough for readers that ask rarely to see it
// cancelled. Looking back further than that, an entry has the same beginning
// for as long as it is shown. Own defaults.
const (
	shownFor = 14 * 24 * time.Hour
	lookBack = 60 * 24 * time.Hour
)

// scribe is one reading of the book for one farm.
type scribe struct {
	book   Book
	owner  farm.Farm
	phrase *phrase.Book
	public string // address of the pages, without a slash at the end
	now    time.Time
}

// events are the entries to show, in the order in which they begin.
func (d *scribe) events(ctx context.Context) ([]Event, error) {
	notices, err := d.book.Notices(ctx, d.owner.ID, store.NoticeFilter{From: d.now.Add(-lookBack)})
	if err != nil {
		return nil, fmt.Errorf("calendar of farm %d: %w", d.owner.ID, err)
	}
	slices.Reverse(notices)
	var out []Event
	for _, s := range cut(notices) {
		e, err := d.event(ctx, s)
		if err != nil {
			return nil, fmt.Errorf("calendar of farm %d: notice %d: %w", d.owner.ID, s.first().ID, err)
		}
		if !d.now.After(later(e.End, e.Modified).Add(shownFor)) {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b Event) int { return a.Start.Compare(b.Start) })
	return out, nil
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func (d *scribe) event(ctx context.Context, s strand) (Event, error) {
	switch s.kind {
	case harvest:
		return d.harvest(ctx, s)
	case blind:
		return d.blind(ctx, s)
	}
	return d.useBy(ctx, s)
}

// base is what every entry has of its notices.
func (d *scribe) base(s strand) Event {
	return Event{UID: d.uid(s), Sequence: len(s.notices) - 1, Created: s.first().IssuedAt, Modified: s.last().IssuedAt}
}

// uid is stable for the first notice of an event and does not meet that of
// another installation.
func (d *scribe) uid(s strand) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "winterstand %d %d %s %d", d.owner.ID, d.owner.CreatedAt.Unix(), s.subject, s.first().ID))
	return hex.EncodeToString(sum[:16])
}

// change counts one more change, at a time.
func (e *Event) change(at time.Time) {
	e.Sequence++
	e.Modified = later(e.Modified, at)
}

// facts of a notice, with a speaker for its zone.
func (d *scribe) facts(n store.Notice) (notice.Facts, phrase.Speaker, error) {
	var f notice.Facts
	if err := json.Unmarshal(n.Facts, &f); err != nil {
		return f, phrase.Speaker{}, fmt.Errorf("facts: %w", err)
	}
	return f, phrase.Speaker{Book: d.phrase, Language: d.owner.Language, Units: d.owner.Units, Zone: farm.ZoneTold(f.Zone)}, nil
}

// days makes whole local days of an event; to is its last.
func (e *Event) days(from, to farm.Day) {
	e.Days = true
	e.Start, e.End = from.Start(time.UTC), to.Add(1).Start(time.UTC)
}

// gone: the book holds no such entry any more.
func gone(err error) bool { return errors.Is(err, store.ErrNotFound) }
