package deliver

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/link"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
)

var begin = time.Date(2026, 11, 16, 18, 0, 0, 0, time.UTC)

// server is a mail server or gateway that answers as a test says.
type server struct {
	got   []Envelope
	err   error
	retry bool
}

func (s *server) Send(_ context.Context, e Envelope) (bool, error) {
	s.got = append(s.got, e)
	return s.retry, s.err
}

// bench is a farm with Ann, who has mail and phone, and Ben, who has mail.
type bench struct {
	*testing.T
	carrier  *Carrier
	store    *sqlite.Store
	clock    time.Time
	mail     *server
	text     *server
	jobs     []store.Job
	farm     int64
	ann, ben int64
	bed      int64
	written  int
}

func newBench(t *testing.T) *bench {
	t.Helper()
	b := &bench{T: t, clock: begin, mail: &server{}, text: &server{}}
	var err error
	b.store, err = sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.store.Close()) })
	b.store.Attach(func(_ context.Context, _ *sql.Tx, jobs []store.Job) error {
		b.jobs = append(b.jobs, jobs...)
		return nil
	})
	b.write(func(tx store.Writer) {
		f := farm.New("Hill Farm", begin)
		f.Units, f.TimeZone = "us", "America/Chicago"
		b.farm, err = tx.AddFarm(t.Context(), f)
		require.NoError(t, err)
		b.ann, err = tx.AddRecipient(t.Context(), farm.Recipient{FarmID: b.farm, Name: "Ann", Email: "ann@farm.example", Phone: "+16125550101", CreatedAt: begin})
		require.NoError(t, err)
		b.ben, err = tx.AddRecipient(t.Context(), farm.Recipient{FarmID: b.farm, Name: "Ben", Email: "ben@farm.example", Language: "es", Units: "metric", CreatedAt: begin})
		require.NoError(t, err)
		field, err := tx.AddField(t.Context(), farm.Field{FarmID: b.farm, Name: "Upper", Latitude: 46, Longitude: -92, CreatedAt: begin})
		require.NoError(t, err)
		b.bed, err = tx.AddBed(t.Context(), farm.Bed{FarmID: b.farm, FieldID: field, Name: "A1", Crop: "chard", Purpose: farm.Fresh, CreatedAt: begin})
		require.NoError(t, err)
	})
	b.carrier = b.another()
	return b
}

// another is a second process on the same book.
func (b *bench) another() *Carrier {
	return &Carrier{Store: b.store.Store, Senders: map[string]Sender{store.Email: b.mail, store.SMS: b.text}, Book: phrase.MustLoad(), Signer: link.Signer{Secret: []byte("an invented key")},
		PublicURL: "https://farm.example/", Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return b.clock }}
}

func (b *bench) write(do func(store.Writer)) {
	b.Helper()
	require.NoError(b, b.store.Write(b.Context(), func(tx store.Writer) error { do(tx); return nil }))
}

// notice writes one about a bed.
func (b *bench) notice(kind string) int64 {
	b.Helper()
	b.written++
	facts, err := json.Marshal(notice.Facts{Kind: kind, Farm: "Hill Farm", Field: "Upper", Bed: "A1", BedID: b.bed, Crop: "chard", Zone: "America/Chicago", Night: "2026-11-18",
		Watching: &notice.Watching{}, Unreached: &notice.Unreached{Name: "Ann", Channel: store.Email}})
	require.NoError(b, err)
	var id int64
	b.write(func(tx store.Writer) {
		id, err = tx.AddNotice(b.Context(), store.Notice{FarmID: b.farm, Subject: "bed:1", BedID: b.bed, Kind: kind, Night: "2026-11-18", Revision: b.written, IssuedAt: b.clock, Facts: facts})
		require.NoError(b, err)
	})
	return id
}

// queued writes a message that is due now.
func (b *bench) queued(to int64, channel string, notices ...int64) int64 {
	b.Helper()
	b.written++
	var id int64
	b.write(func(tx store.Writer) {
		var err error
		id, err = tx.AddMessage(b.Context(), store.Message{FarmID: b.farm, RecipientID: to, Channel: channel, State: store.Queued, NoticeIDs: notices,
			Key: fmt.Sprint("m", b.written), CreatedAt: b.clock, NotBefore: b.clock, Test: len(notices) == 0})
		require.NoError(b, err)
	})
	return id
}

func (b *bench) message(id int64) store.Message {
	b.Helper()
	m, err := b.store.Message(b.Context(), id)
	require.NoError(b, err)
	return m
}

func (b *bench) try(id int64) store.Message {
	b.Helper()
	require.NoError(b, b.carrier.Message(b.Context(), id))
	return b.message(id)
}
