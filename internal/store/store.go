// Package store says what is written down and what each entry promises. Two
// databases keep it; everything above speaks only to what stands here.
//
// Instants are kept as Unix seconds UTC, days as text 2006-01-02. Every method
// may return a driver error wrapped with what was attempted; the sentinel
// errors below are the only ones a caller tells apart.
package store

import (
	"context"
	"errors"
)

// Sentinel errors.
var (
	ErrNotFound = errors.New("not found")
	ErrChanged  = errors.New("changed meanwhile") // the version named is not the stored one
	ErrExists   = errors.New("exists already")
)

// Store is the whole book.
type Store struct {
	Reader
	Database
}

// Database is where the book is kept.
type Database interface {
	// Write runs fn in one transaction; an error of fn rolls everything back,
	// jobs included. fn may run again after a deadlock: it assigns, it does not
	// append to what it was given. Keep it short: on SQLite the job queue waits.
	Write(ctx context.Context, fn func(Writer) error) error
	Ping(ctx context.Context) error
	Close() error
}

// Reader answers questions, by subject. Rows of another farm are ErrNotFound,
// never shown. Lists come by ascending ID unless said otherwise; removed
// entries are left out of lists but still found by ID.
type Reader struct {
	FarmReader
	FieldReader
	RecipientReader
	RoomReader
	ObservationReader
	NoticeReader
	MessageReader
	CellReader
	WeatherReader
	VerdictReader
	MemoReader
	UpkeepReader
}

// Writer changes things inside one transaction, and reads what it has changed.
// Add… methods give the new ID. Update… methods need the version that the
// caller saw (else ErrChanged) and raise it by one.
type Writer struct {
	Reader
	FarmWriter
	FieldWriter
	RecipientWriter
	RoomWriter
	ObservationWriter
	NoticeWriter
	MessageWriter
	CellWriter
	WeatherWriter
	VerdictWriter
	MemoWriter
	UpkeepWriter
}

// Page is a slice of a list: entries after a cursor (for newest-first lists:
// before it). Zero After: from the start; zero Limit: all.
type Page struct {
	After int64
	Limit int
}
