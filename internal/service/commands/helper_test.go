package commands

import (
	"context"
	"database/sql"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
)

// noon of the farm, a Saturday.
var noon = time.Date(2026, 11, 14, 18, 0, 0, 0, time.UTC)

// bench is commands over a real book, with a clock that can be set.
type bench struct {
	*testing.T
	Service
	store *sqlite.Store
	clock time.Time
	farm  int64
}

func newBench(t *testing.T) *bench {
	t.Helper()
	store, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, store.Close()) })
	store.Attach(keepJobs)
	catalogue, err := crop.Default()
	require.NoError(t, err)
	b := &bench{T: t, store: store, clock: noon}
	b.Service = Service{Store: store.Store, Catalogue: catalogue, Now: func() time.Time { return b.clock }}
	made, err := b.MakeToken(t.Context(), "Hill Farm", farm.ScopeWrite)
	require.NoError(t, err)
	b.farm = made.Farm.ID
	_, err = b.ChangeFarm(t.Context(), b.farm, Seen{}, FarmInput{TimeZone: Set("America/Chicago")})
	require.NoError(t, err)
	return b
}

// keepJobs writes jobs down in their transaction, the same one over and over once.
func keepJobs(ctx context.Context, tx *sql.Tx, jobs []store.Job) error {
	for _, j := range jobs {
		_, err := tx.ExecContext(ctx, `INSERT OR IGNORE INTO memo (kind, owner, body, updated_at) VALUES (?1, ?2, ?3, 0)`,
			storetest.JobKind, storetest.JobOwner(j), storetest.JobBody(j))
		if err != nil {
			return err
		}
	}
	return nil
}

// jobs gives what was asked for since the last call.
func (b *bench) jobs() []store.Job {
	b.Helper()
	memos, err := b.store.Memos(b.Context(), storetest.JobKind)
	require.NoError(b, err)
	var jobs []store.Job
	for owner, body := range memos {
		var j store.Job
		require.NoError(b, json.Unmarshal(body, &j))
		jobs = append(jobs, j)
		require.NoError(b, b.store.Write(b.Context(), func(w store.Writer) error {
			return w.DropMemo(b.Context(), owner, storetest.JobKind)
		}))
	}
	return jobs
}

func (b *bench) field(name string) store.Field {
	b.Helper()
	f, err := b.AddField(b.Context(), b.farm, FieldInput{Name: Set(name), Latitude: Set(46.5), Longitude: Set(-92.1)})
	require.NoError(b, err)
	return f
}

// placed is a field that has its cell.
func (b *bench) placed(name string) store.Field {
	b.Helper()
	f := b.field(name)
	require.NoError(b, b.store.Write(b.Context(), func(w store.Writer) error {
		id, err := w.SaveCell(b.Context(), store.Cell{Key: "cell of " + name, Latitude: 46.5, Longitude: -92.1, TimeZone: "America/Chicago", ResolvedAt: noon})
		if err != nil {
			return err
		}
		f.CellID = id
		return w.PlaceField(b.Context(), f.ID, id)
	}))
	b.jobs()
	return f
}

func (b *bench) bed(f store.Field, in BedInput) farm.Bed {
	b.Helper()
	in.FieldID, in.Name = Set(f.ID), Set("B4")
	if !in.Crop.Touched() {
		in.Crop = Set("chard")
	}
	bed, err := b.AddBed(b.Context(), b.farm, in)
	require.NoError(b, err)
	return bed
}

// problems of an error that must be Invalid, by field.
func problems(t *testing.T, err error) map[string]string {
	t.Helper()
	var invalid *Invalid
	require.ErrorAs(t, err, &invalid)
	out := map[string]string{}
	for _, p := range invalid.Problems {
		out[p.Field] = p.Reason.String()
	}
	return out
}
