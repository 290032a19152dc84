package inbound

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/gsm7"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase/phrasetest"
	"winterstand/internal/message/reply"
	"winterstand/internal/outside/sms"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/trial/catcher"
	"winterstand/internal/unit"
)

const (
	secret   = "an invented gateway's secret"
	zoneName = "America/Chicago"
	annPhone = "+16125550101"
)

// noon of the farm, a Monday.
var noon = time.Date(2026, 11, 16, 18, 0, 0, 0, time.UTC)

// line is a farm whose people text with the service.
type line struct {
	*testing.T
	box     *Box
	store   *sqlite.Store
	caught  *catcher.Catcher
	router  chi.Router
	clock   time.Time
	farmID  int64
	fieldID int64
	posted  int
	notices int
}

type gateway struct{ *sms.Gateway }

func (g gateway) Text(ctx context.Context, to, text, key string) (bool, error) {
	return g.Send(ctx, sms.Text{To: to, Text: text, Key: key})
}

func newLine(t *testing.T) *line {
	t.Helper()
	l := &line{T: t, clock: noon}
	var err error
	l.store, err = sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.store.Close()) })
	l.store.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	l.caught, err = catcher.Start(t.Context(), catcher.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.caught.Close()) })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	gate, err := sms.NewInbound(sms.InboundSettings{Secret: secret})
	require.NoError(t, err)
	out, err := sms.New(sms.Settings{URL: l.caught.GatewayURL(), Headers: map[string]string{"Content-Type": "application/json", "Idempotency-Key": "{{.Key}}"},
		Body: `{"to": {{json .To}}, "text": {{json .Text}}}`})
	require.NoError(t, err)
	book := phrasetest.Book(t)
	words, err := reply.Read(book)
	require.NoError(t, err)
	now := func() time.Time { return l.clock }
	l.box = &Box{Commands: commands.Service{Store: l.store.Store, Catalogue: catalogue, Now: now}, Gate: gate, Texter: gateway{out}, Phrases: book, Words: words,
		Channels: []string{store.Email, store.SMS}, PublicURL: "https://farm.test", Now: now, Log: slog.New(slog.NewTextHandler(io.Discard, nil))}
	l.router = chi.NewRouter()
	l.box.Mount(l.router)
	l.farmID, l.fieldID = l.farm("Hill Farm")
	return l
}

func (l *line) farm(name string) (farmID, fieldID int64) {
	l.Helper()
	made, err := l.box.Commands.MakeToken(l.Context(), name, farm.ScopeWrite)
	require.NoError(l, err)
	_, err = l.box.Commands.ChangeFarm(l.Context(), made.Farm.ID, commands.Seen{}, commands.FarmInput{TimeZone: commands.Set(zoneName)})
	require.NoError(l, err)
	f, err := l.box.Commands.AddField(l.Context(), made.Farm.ID, commands.FieldInput{Name: commands.Set("Upper terrace"), Latitude: commands.Set(46.5), Longitude: commands.Set(-92.1)})
	require.NoError(l, err)
	return made.Farm.ID, f.ID
}

func (l *line) bed(name string) farm.Bed {
	l.Helper()
	b, err := l.box.Commands.AddBed(l.Context(), l.farmID, commands.BedInput{FieldID: commands.Set(l.fieldID), Name: commands.Set(name), Crop: commands.Set("chard"), StandingKg: commands.Set(100.0)})
	require.NoError(l, err)
	return b
}

func (l *line) ann(change ...func(*commands.RecipientInput)) farm.Recipient {
	l.Helper()
	in := commands.RecipientInput{Name: commands.Set("Ann"), Phone: commands.Set(annPhone)}
	for _, c := range change {
		c(&in)
	}
	r, err := l.box.Commands.AddRecipient(l.Context(), l.farmID, in)
	require.NoError(l, err)
	return r
}

// sent writes a harvest-before notice a bed and one text about them all, which
// has left now.
func (l *line) sent(to farm.Recipient, beds ...farm.Bed) {
	l.Helper()
	l.notices++
	require.NoError(l, l.store.Write(l.Context(), func(w store.Writer) error {
		m := store.Message{FarmID: to.FarmID, RecipientID: to.ID, Channel: store.SMS, Key: fmt.Sprint("m", l.notices), State: store.Queued, CreatedAt: l.clock, NotBefore: l.clock}
		for _, b := range beds {
			facts, err := json.Marshal(notice.Facts{Kind: notice.HarvestBefore, Bed: b.Name, BedID: b.ID, Crop: b.Crop, Zone: zoneName})
			require.NoError(l, err)
			id, err := w.AddNotice(l.Context(), store.Notice{FarmID: b.FarmID, Subject: fmt.Sprintf("bed:%d", b.ID), BedID: b.ID, FieldID: b.FieldID,
				Kind: notice.HarvestBefore, Night: "2026-11-18", Revision: l.notices, IssuedAt: l.clock, HarvestBefore: unit.Some(noon.Add(48 * time.Hour)), Facts: facts})
			require.NoError(l, err)
			m.NoticeIDs = append(m.NoticeIDs, id)
		}
		var err error
		m.ID, err = w.AddMessage(l.Context(), m)
		require.NoError(l, err)
		m.State, m.SentAt = store.Sent, unit.Some(l.clock)
		return w.MarkMessage(l.Context(), m)
	}))
	l.clock = l.clock.Add(10 * time.Minute)
}

// post signs and posts a reply as the gateway does.
func (l *line) post(from, text, id string) *httptest.ResponseRecorder {
	body := url.Values{"from": {from}, "text": {text}, "id": {id}}.Encode()
	stamp := fmt.Sprint(l.clock.Unix())
	return l.raw(body, stamp, sms.Sign(secret, stamp, []byte(body)))
}

func (l *line) raw(body, stamp, signature string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, Path, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("X-Timestamp", stamp)
	r.Header.Set("X-Signature", signature)
	w := httptest.NewRecorder()
	l.router.ServeHTTP(w, r)
	return w
}

// says posts a reply of Ann's and gives what was texted back; empty: nothing.
func (l *line) says(text string) string {
	l.Helper()
	l.posted++
	before := len(l.caught.Texts())
	require.Equal(l, http.StatusOK, l.post(annPhone, text, fmt.Sprint("in", l.posted)).Code)
	l.clock = l.clock.Add(time.Minute)
	after := l.caught.Texts()
	require.LessOrEqual(l, len(after)-before, 1)
	if len(after) == before {
		return ""
	}
	back := after[len(after)-1]
	require.Equal(l, annPhone, back.To)
	assert.True(l, gsm7.Encodable(back.Text), back.Text)
	assert.LessOrEqual(l, gsm7.Segments(back.Text), 2, back.Text)
	assert.NotContains(l, back.Text, "{", "every brace is filled")
	return back.Text
}

// now gives a bed as it stands.
func (l *line) now(b farm.Bed) farm.Bed {
	l.Helper()
	got, err := l.store.Bed(l.Context(), b.FarmID, b.ID)
	require.NoError(l, err)
	return got
}

func (l *line) answers(b farm.Bed) []farm.Answer {
	l.Helper()
	ns, err := l.store.Notices(l.Context(), b.FarmID, store.NoticeFilter{BedID: b.ID})
	require.NoError(l, err)
	var out []farm.Answer
	for _, n := range ns {
		as, err := l.store.Answers(l.Context(), b.FarmID, n.ID)
		require.NoError(l, err)
		out = append(out, as...)
	}
	return out
}

// failing is a gateway that is down.
type failing struct{}

func (failing) Text(context.Context, string, string, string) (bool, error) {
	return true, fmt.Errorf("no line")
}

// fresh is the gateway without its memory of having been asked to wait.
func (l *line) fresh() Texter {
	out, err := sms.New(sms.Settings{URL: l.caught.GatewayURL(), Headers: map[string]string{"Content-Type": "application/json", "Idempotency-Key": "{{.Key}}"},
		Body: `{"to": {{json .To}}, "text": {{json .Text}}}`})
	require.NoError(l, err)
	return gateway{out}
}
