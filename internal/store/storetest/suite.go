// Package storetest is the one conformance suite that every store.Store
// passes, and the private PostgreSQL server that tests run it on.
package storetest

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Opener opens the store on one database. A second call, after Close, opens the
// same database again.
type Opener func(t *testing.T) store.Store

// JobKind is the kind of memo that stands for a job: an opener attaches a queue
// that writes each job as a memo of this kind, with its Owner and Body, in the
// transaction it is given.
const JobKind = "conformance-job"

// JobOwner is the owner of a job's memo.
func JobOwner(j store.Job) string { return fmt.Sprint(j.MessageID, j.CellID, j.FieldID) }

// JobBody is the body of a job's memo.
func JobBody(j store.Job) string {
	b, err := json.Marshal(j)
	if err != nil {
		panic(err) // a Job is three numbers and a time
	}
	return string(b)
}

// Run checks a store; fresh gives the opener of a new empty database.
func Run(t *testing.T, fresh func(t *testing.T) Opener) {
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			open := fresh(t)
			s := open(t)
			t.Cleanup(func() { _ = s.Close() }) // a case may have closed it already
			c.run(t, &book{Store: s, open: open})
		})
	}
}

var cases = []struct {
	name string
	run  func(t *testing.T, b *book)
}{
	{"farm kept whole", farmKeptWhole},
	{"farm name is taken once", farmNameOnce},
	{"farm found by calendar secret", farmByCalendar},
	{"farms come in pages", farmPages},
	{"farm changes by version", farmVersion},
	{"token until revoked", tokenUntilRevoked},
	{"fields", checkFields},
	{"beds", checkBeds},
	{"recipients", checkRecipients},
	{"rooms", checkRooms},
	{"lots", checkLots},
	{"field is placed in a cell", fieldPlaced},
	{"beds by field and cleared", bedFilter},
	{"nothing points into another farm", noForeignReference},
	{"recipients by phone and e-mail", recipientsByAddress},
	{"readings by time", readingsByTime},
	{"findings by bed", findingsByBed},
	{"cells are saved by key", cellsByKey},
	{"cells in use hold a standing bed", cellsInUse},
	{"forecast once per issue", forecastOnce},
	{"last forecast by issue", lastForecast},
	{"strongest origin of an hour", strongestOrigin},
	{"hours against a model", hoursModel},
	{"hours must be full and of a known origin", hoursRefused},
	{"hours copied where there are none", hoursCopied},
	{"checkpoints", checkpoints},
	{"verdicts", verdicts},
	{"verdicts in bulk", verdictsInBulk},
	{"judgements keep the first", judgementsFirst},
	{"judgements scored", judgementsScored},
	{"notice once", noticeOnce},
	{"notice kept whole", noticeKeptWhole},
	{"notices newest first", noticesNewestFirst},
	{"answers", answers},
	{"message once per key", messageOnce},
	{"message marked", messageMarked},
	{"overdue messages", overdue},
	{"messages of a farm", messagesOfFarm},
	{"memos", memos},
	{"replies", replies},
	{"sessions", sessions},
	{"keys used once", usedOnce},
	{"secrets made once", secretsOnce},
	{"counts", counts},
	{"prune", prune},
	{"jobs with their transaction", jobs},
	{"an error rolls everything back", rollback},
	{"a panic rolls everything back", panicRollsBack},
	{"readers see what is committed", readersSeeCommitted},
	{"two writers", twoWriters},
	{"one of many adds a notice", oneOfManyAdds},
	{"a cancelled write leaves nothing", cancelled},
	{"reopened", reopened},
	{"what is not a number is refused by name", notANumber},
	{"text that one database would refuse", badText},
}

// book is the store under test.
type book struct {
	store.Store
	open Opener
}

// write runs fn in a transaction that must succeed.
func (b *book) write(t *testing.T, fn func(ctx context.Context, w store.Writer)) {
	t.Helper()
	ctx := t.Context()
	require.NoError(t, b.Write(ctx, func(w store.Writer) error {
		fn(ctx, w)
		return nil
	}))
}

// try runs fn in a transaction and gives its error.
func (b *book) try(t *testing.T, fn func(ctx context.Context, w store.Writer) error) error {
	t.Helper()
	ctx := t.Context()
	return b.Write(ctx, func(w store.Writer) error { return fn(ctx, w) })
}

// added is the ID of one thing added in a transaction of its own.
func added[T any](t *testing.T, b *book, add func(store.Writer, context.Context, T) (int64, error), v T) (id int64) {
	t.Helper()
	b.write(t, func(ctx context.Context, w store.Writer) {
		var err error
		id, err = add(w, ctx, v)
		require.NoError(t, err)
		require.Positive(t, id)
	})
	return id
}

// got fails on an error; it wraps calls that give a value.
func got[T any](v T, err error) func(t *testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		require.NoError(t, err)
		return v
	}
}

// missing is an ID that no database gives in a test.
const missing = 1 << 40

// at is an instant of the winter that all cases play in.
func at(day, hour int) time.Time { return time.Date(2026, 11, day, hour, 0, 0, 0, time.UTC) }

// world is a farm with a field in a cell and a bed.
type world struct {
	farm, field, bed, cell, recipient int64
}

// settle makes a world; names keep two of them apart.
func settle(t *testing.T, b *book, name string) (w world) {
	t.Helper()
	w.farm = added(t, b, store.Writer.AddFarm, farm.New(name, at(1, 0)))
	w.field = added(t, b, store.Writer.AddField, farm.Field{FarmID: w.farm, Name: "north", Soil: "loam", CreatedAt: at(1, 0)})
	w.cell = added(t, b, store.Writer.SaveCell, store.Cell{Key: "test:" + name, TimeZone: "UTC"})
	w.bed = added(t, b, store.Writer.AddBed, farm.Bed{FarmID: w.farm, FieldID: w.field, Name: "1", Crop: "spinach", CreatedAt: at(1, 0)})
	w.recipient = added(t, b, store.Writer.AddRecipient, farm.Recipient{FarmID: w.farm, Name: "picker", CreatedAt: at(1, 0)})
	b.write(t, func(ctx context.Context, wr store.Writer) {
		require.NoError(t, wr.PlaceField(ctx, w.field, w.cell))
	})
	return w
}

// clearBed ends the bed of a world.
func clearBed(t *testing.T, b *book, w world) {
	t.Helper()
	b.write(t, func(ctx context.Context, wr store.Writer) {
		bed := got(wr.Bed(ctx, w.farm, w.bed))(t)
		bed.ClearedAt = unit.Some(at(2, 0))
		require.NoError(t, wr.UpdateBed(ctx, bed))
	})
}

// removeField ends the field of a world, whose bed stands as if nothing was.
func removeField(t *testing.T, b *book, w world) {
	t.Helper()
	b.write(t, func(ctx context.Context, wr store.Writer) {
		field := got(wr.Field(ctx, w.farm, w.field))(t)
		field.RemovedAt = unit.Some(at(2, 0))
		require.NoError(t, wr.UpdateField(ctx, field.Field))
	})
}

// moveBed moves the bed of a world to a field that is in no cell.
func moveBed(t *testing.T, b *book, w world) {
	t.Helper()
	unplaced := added(t, b, store.Writer.AddField, farm.Field{FarmID: w.farm, Name: "unplaced", CreatedAt: at(1, 0)})
	b.write(t, func(ctx context.Context, wr store.Writer) {
		bed := got(wr.Bed(ctx, w.farm, w.bed))(t)
		bed.FieldID = unplaced
		require.NoError(t, wr.UpdateBed(ctx, bed))
	})
}
