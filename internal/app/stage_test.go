package app_test

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/app"
	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/outside/settings"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/round"
	"winterstand/internal/store"
	"winterstand/internal/store/storetest"
	"winterstand/internal/trial/catcher"
	"winterstand/internal/trial/standin"
	"winterstand/internal/unit"
)

func TestMain(m *testing.M) { os.Exit(storetest.Main(m)) }

// The place that all tests play in, and the moment they begin: a Monday noon.
const zoneName = "America/Chicago"

var (
	place = standin.Place{Name: "Test Ground", Latitude: 45.0, Longitude: -93.2, Elevation: unit.Some(270.0), TimeZone: zoneName,
		Office: "TST", X: 10, Y: 20, Station: "KTST"}
	begin = time.Date(2025, 11, 3, 18, 0, 0, 0, time.UTC)
)

// world is a whole service under a sky of the test's making, with a clock that
// stands still between steps, and a mail server and text gateway that keep what
// arrives.
type world struct {
	*testing.T
	clock   *standin.Clock
	sky     *sky
	front   *front
	caught  *catcher.Catcher
	service *app.Service
	runner  *round.Runner
	chosen  settings.Settings
	members int
	log     *slog.Logger
	farmID  int64
	fieldID int64
}

type worldOptions struct {
	database string
	members  int
	log      *slog.Logger
	settings func(*settings.Settings)
}

// enough members for a night that takes the bed in all of them. Where a test
// rests on a likelihood or on what a milder night does, it asks for many.
const enough = 9

func many(o *worldOptions) { o.members = 31 }

// newWorld has one field with 40 days of its own past weather: mild days and
// light frosts.
func newWorld(t *testing.T, change ...func(*worldOptions)) *world {
	t.Helper()
	o := worldOptions{database: "sqlite:" + filepath.Join(t.TempDir(), "book.db"), members: enough, log: quiet()}
	for _, c := range change {
		c(&o)
	}
	zone, err := time.LoadLocation(zoneName)
	require.NoError(t, err)
	w := &world{T: t, clock: standin.NewClock(begin), sky: newSky(zone, 0, 8)}
	w.front = &front{asked: map[string]int{}, behind: standin.New(standin.Options{
		Places: []standin.Place{place}, Now: w.clock.Now, Forecast: w.sky.forecast, Past: w.sky.past})}
	server := httptest.NewServer(w.front)
	t.Cleanup(server.Close)
	w.caught, err = catcher.Start(t.Context(), catcher.Options{Now: w.clock.Now})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, w.caught.Close()) })
	w.chosen, w.members, w.log = w.settings(o, server.URL), o.members, o.log
	w.open()
	t.Cleanup(func() { require.NoError(t, w.service.Close()) })
	w.settle()
	return w
}

// open opens the service on the database.
func (w *world) open() {
	w.Helper()
	var err error
	w.service, err = app.New(w.Context(), app.Options{Settings: w.chosen, Migrate: true, Now: w.clock.Now, Log: w.log})
	require.NoError(w, err)
	w.runner = w.service.Runner
	w.runner.Members = w.members
}

// reopen is a restart.
func (w *world) reopen() {
	w.Helper()
	require.NoError(w, w.service.Close())
	w.open()
}

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func (w *world) settings(o worldOptions, forecastURL string) settings.Settings {
	c := settings.Default()
	c.Database, c.Listen, c.PublicURL = o.database, "127.0.0.1:0", "http://farm.test"
	c.Forecast.Sources = []string{"nws"}
	c.Forecast.NWS = settings.Source{BaseURL: forecastURL, Contact: "test@farm.test"}
	c.Mail = settings.Mail{Host: "127.0.0.1", Port: w.caught.SMTPPort(), From: "notices@farm.test", TLS: "none"}
	c.SMS = settings.SMS{URL: w.caught.GatewayURL(), Method: http.MethodPost, From: "farm", Headers: map[string]string{"Content-Type": "application/json"},
		Body: `{"to": {{json .To}}, "text": {{json .Text}}}`}
	if o.settings != nil {
		o.settings(&c)
	}
	require.NoError(w, c.Validate())
	return c
}

func (w *world) settle() {
	w.Helper()
	ctx := w.Context()
	made, err := w.service.Commands.MakeToken(ctx, "Test Farm", farm.ScopeWrite)
	require.NoError(w, err)
	w.farmID = made.Farm.ID
	w.change(commands.FarmInput{Units: commands.Set("us"), TimeZone: commands.Set(zoneName)})
	field, err := w.service.Commands.AddField(ctx, w.farmID, commands.FieldInput{Name: commands.Set("Long field"),
		Latitude: commands.Set(place.Latitude), Longitude: commands.Set(place.Longitude)})
	require.NoError(w, err)
	w.fieldID = field.ID
	cell, err := w.runner.Settle(ctx, field.ID)
	require.NoError(w, err)
	now := w.clock.Now()
	require.NoError(w, w.runner.ImportHours(ctx, cell, w.sky.hours(now.AddDate(0, 0, -40), now)))
}

func (w *world) change(in commands.FarmInput) {
	w.Helper()
	_, err := w.service.Commands.ChangeFarm(w.Context(), w.farmID, unit.None[int64](), in)
	require.NoError(w, err)
}

func (w *world) bed(name, crop string, change ...func(*commands.BedInput)) farm.Bed {
	w.Helper()
	in := commands.BedInput{FieldID: commands.Set(w.fieldID), Name: commands.Set(name), Crop: commands.Set(crop), SownOn: commands.Set("2025-07-15"), StandingKg: commands.Set(50.0)}
	for _, c := range change {
		c(&in)
	}
	b, err := w.service.Commands.AddBed(w.Context(), w.farmID, in)
	require.NoError(w, err)
	return b
}

func (w *world) person(in commands.RecipientInput) farm.Recipient {
	w.Helper()
	r, err := w.service.Commands.AddRecipient(w.Context(), w.farmID, in)
	require.NoError(w, err)
	return r
}

// ann reads mail and texts at all hours.
func (w *world) ann() farm.Recipient {
	return w.person(commands.RecipientInput{Name: commands.Set("Ann"), Email: commands.Set("ann@farm.test"), Phone: commands.Set("+16125550101")})
}

// round does one round now and delivers what is due now.
func (w *world) round() round.Outcome {
	w.Helper()
	o, err := w.runner.Round(w.Context())
	require.NoError(w, err)
	require.NoError(w, w.service.Drain(w.Context()))
	return o
}

// until does rounds from now to a moment, step by step, and gives the notices.
func (w *world) until(end time.Time, step time.Duration) []store.Notice {
	w.Helper()
	var all []store.Notice
	for w.clock.Now().Before(end) {
		w.clock.Add(min(step, end.Sub(w.clock.Now())))
		all = append(all, w.round().Notices...)
	}
	return all
}

// local is a moment of the field's clock, "2006-01-02 15:04".
func (w *world) local(clock string) time.Time {
	w.Helper()
	t, err := time.ParseInLocation("2006-01-02 15:04", clock, w.sky.zone)
	require.NoError(w, err)
	return t
}

func kinds(ns []store.Notice) []string {
	var out []string
	for _, n := range ns {
		out = append(out, n.Kind)
	}
	return out
}

func ofKind(ns []store.Notice, kind string) []store.Notice {
	var out []store.Notice
	for _, n := range ns {
		if n.Kind == kind {
			out = append(out, n)
		}
	}
	return out
}

func (w *world) facts(n store.Notice) notice.Facts {
	w.Helper()
	var f notice.Facts
	require.NoError(w, json.Unmarshal(n.Facts, &f))
	return f
}

// notices are all that stand in the book, oldest first.
func (w *world) notices() []store.Notice {
	w.Helper()
	ns, err := w.service.Book.Notices(context.WithoutCancel(w.Context()), w.farmID, store.NoticeFilter{})
	require.NoError(w, err)
	for i, j := 0, len(ns)-1; i < j; i, j = i+1, j-1 {
		ns[i], ns[j] = ns[j], ns[i]
	}
	return ns
}
