package api

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/science/skill"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/store"
	"winterstand/internal/store/postgres"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
)

func TestMain(m *testing.M) { os.Exit(storetest.Main(m)) }

// noon is when every test happens.
var noon = time.Date(2026, 11, 14, 18, 0, 0, 0, time.UTC)

// world is the interface over a real book.
type world struct {
	*testing.T
	store    store.Store
	commands commands.Service
	judge    *judge
	books    *books
	server   *httptest.Server
	log      *bytes.Buffer
	token    string
	farmID   int64
}

func newWorld(t *testing.T) *world {
	t.Helper()
	return newWorldWith(t, 0)
}

func newWorldWith(t *testing.T, perMinute int) *world {
	t.Helper()
	opened, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	opened.Attach(func(ctx context.Context, tx *sql.Tx, jobs []store.Job) error {
		for _, j := range jobs {
			_, err := tx.ExecContext(ctx, `INSERT OR IGNORE INTO memo (kind, owner, body, updated_at) VALUES (?1, ?2, ?3, 0)`,
				storetest.JobKind, storetest.JobOwner(j), storetest.JobBody(j))
			if err != nil {
				return err
			}
		}
		return nil
	})
	return newWorldOn(t, opened.Store, perMinute)
}

// newWorldOnPostgres is the same over the server database.
func newWorldOnPostgres(t *testing.T) *world {
	t.Helper()
	opened, err := postgres.Open(t.Context(), storetest.Database(t), postgres.Options{Migrate: true})
	require.NoError(t, err)
	opened.Attach(func(ctx context.Context, tx pgx.Tx, jobs []store.Job) error {
		for _, j := range jobs {
			_, err := tx.Exec(ctx, `INSERT INTO memo (kind, owner, body, updated_at) VALUES ($1, $2, $3, 0) ON CONFLICT DO NOTHING`,
				storetest.JobKind, storetest.JobOwner(j), storetest.JobBody(j))
			if err != nil {
				return err
			}
		}
		return nil
	})
	return newWorldOn(t, opened.Store, 0)
}

func newWorldOn(t *testing.T, opened store.Store, perMinute int) *world {
	t.Helper()
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	w := &world{T: t, store: opened, log: &bytes.Buffer{}, judge: &judge{}, books: &books{}}
	w.commands = commands.Service{Store: opened, Catalogue: catalogue, Now: func() time.Time { return noon }}
	made, err := w.commands.MakeToken(t.Context(), "Hill Farm", farm.ScopeWrite)
	require.NoError(t, err)
	w.token, w.farmID = made.Token, made.Farm.ID
	w.server = httptest.NewServer(New(Options{
		Commands: w.commands, Judge: w.judge, Books: w.books, Log: slog.New(slog.NewTextHandler(w.log, nil)), Version: "test", PerMinute: perMinute,
		Reason: func(v farm.Verdict, f farm.Farm, zone *time.Location) string { return "because of " + zone.String() },
		Tell:   func(n notice.Facts, f farm.Farm) string { return "told " + n.Kind },

		TellPlan: func(p plan.Plan, f farm.Farm) string { return "plan of " + f.Name },
		TellNote: func(n keeping.Note, f farm.Farm) string { return "note " + string(n.Code) },
	}))
	t.Cleanup(w.server.Close)
	return w
}

// judge answers as it is told to.
type judge struct {
	outlook Outlook
	verdict farm.Verdict
	err     error
	asked   WhatIf
}

func (j *judge) Outlook(context.Context, int64, int64) (Outlook, error) { return j.outlook, j.err }

func (j *judge) WhatIf(_ context.Context, _, _ int64, q WhatIf) (farm.Verdict, error) {
	j.asked = q
	return j.verdict, j.err
}

// books answer as they are told to.
type books struct {
	plan   plan.Plan
	supply plan.Supply
	skill  skill.Report
	stores []plan.Room
	season plan.Season
	looked string
	err    error
}

func (b *books) Plan(context.Context, int64) (plan.Plan, error) { return b.plan, b.err }

func (b *books) Supply(context.Context, int64, bool) (plan.Supply, error) { return b.supply, b.err }

func (b *books) Stores(context.Context, int64) ([]plan.Room, error) { return b.stores, b.err }

func (b *books) Season(context.Context, int64) (plan.Season, error) { return b.season, b.err }

func (b *books) LookBack(_ context.Context, _, _ int64, name string, file []byte) (plan.Season, error) {
	b.looked = name + ": " + string(file)
	return b.season, b.err
}

func (b *books) Skill(context.Context, int64) (skill.Report, error) { return b.skill, b.err }

// reply is an answer that has been read.
type reply struct {
	*testing.T
	status int
	header http.Header
	body   []byte
}

type headers map[string]string

func (w *world) do(method, path, body string, more ...headers) reply {
	w.Helper()
	req, err := http.NewRequestWithContext(w.Context(), method, w.server.URL+path, strings.NewReader(body))
	require.NoError(w, err)
	req.Header.Set("Authorization", "Bearer "+w.token)
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	for _, m := range more {
		for k, v := range m {
			req.Header.Set(k, v)
			if v == "" {
				req.Header.Del(k)
			}
		}
	}
	res, err := w.server.Client().Do(req)
	require.NoError(w, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(w, err)
	return reply{w.T, res.StatusCode, res.Header, b}
}

func (r reply) is(status int) reply {
	r.Helper()
	require.Equal(r, status, r.status, "%s", r.body)
	return r
}

// refused wants a problem that speaks of a field with certain words.
func (r reply) refused(status int, field, words string) reply {
	r.Helper()
	r.is(status)
	require.Equal(r, "application/problem+json", r.header.Get("Content-Type"))
	var p Problem
	require.NoError(r, json.Unmarshal(r.body, &p))
	require.Equal(r, status, p.Status)
	require.Equal(r, http.StatusText(status), p.Title)
	if field == "" {
		require.Contains(r, p.Detail, words)
		return r
	}
	for _, e := range p.Errors {
		if e.Field == field && strings.Contains(e.Reason, words) {
			return r
		}
	}
	require.Failf(r, "the problem does not say it", "want %s: …%s…\ngot %s", field, words, r.body)
	return r
}

func read[T any](r reply) T {
	r.Helper()
	var v T
	require.NoError(r, json.Unmarshal(r.body, &v), "%s", r.body)
	return v
}

func (w *world) field() Field {
	w.Helper()
	return read[Field](w.do("POST", "/v1/fields", `{"name":"North","latitude":46.5,"longitude":-92.1,"time_zone":"America/Chicago"}`).is(201))
}

func (w *world) bed() Bed {
	w.Helper()
	f := w.field()
	return read[Bed](w.do("POST", "/v1/beds", `{"field_id":`+str(f.ID)+`,"name":"B4","crop":"chard","standing_kg":80}`).is(201))
}

func str(v any) string {
	b, _ := json.Marshal(v)
	return string(b)
}

// counts is how much is in the book; a refused request must not move it.
func (w *world) counts() string {
	w.Helper()
	c, err := w.store.Counts(w.Context())
	require.NoError(w, err)
	rooms, err := w.store.Rooms(w.Context(), w.farmID, store.Page{})
	require.NoError(w, err)
	lots, err := w.store.Lots(w.Context(), w.farmID, store.Page{})
	require.NoError(w, err)
	people, err := w.store.Recipients(w.Context(), w.farmID, store.Page{})
	require.NoError(w, err)
	findings, err := w.store.Findings(w.Context(), w.farmID, 0)
	require.NoError(w, err)
	f, err := w.store.Farm(w.Context(), w.farmID)
	require.NoError(w, err)
	return str([]any{c, len(rooms), len(lots), len(people), findings, f.Version, w.jobs()})
}

// jobs are what was asked to be done.
func (w *world) jobs() map[string]json.RawMessage {
	w.Helper()
	memos, err := w.store.Memos(w.Context(), storetest.JobKind)
	require.NoError(w, err)
	return memos
}
