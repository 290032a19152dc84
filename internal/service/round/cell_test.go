package round_test

import (
	"context"
	"database/sql"
	"log/slog"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/forecast"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/round"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var chicago = func() *time.Location {
	z, err := time.LoadLocation("America/Chicago")
	if err != nil {
		panic(err)
	}
	return z
}()

// sky is a source with mild days and nights but for the hard ones a test sets.
type sky struct {
	now  func() time.Time
	hard map[farm.Day]bool
}

func (s *sky) Name() string { return "nws" }

func (s *sky) Resolve(_ context.Context, p forecast.Point) (forecast.Cell, error) {
	return forecast.Cell{Source: "nws", Key: "nws:TST/1,1", Latitude: p.Latitude, Longitude: p.Longitude, Elevation: unit.Some(300.0),
		TimeZone: chicago.String(), Resolved: s.now()}, nil
}

// Past is what it was, from the 24th of October on.
func (s *sky) Past(_ context.Context, _ forecast.Cell, from, to time.Time) ([]weather.Hour, weather.Origin, error) {
	var out []weather.Hour
	if first := time.Date(2025, 10, 24, 5, 0, 0, 0, time.UTC); from.Before(first) {
		from = first
	}
	for at := from.Truncate(time.Hour); at.Before(to); at = at.Add(time.Hour) {
		out = append(out, weather.Hour{At: at, Air: unit.Some(unit.Celsius(s.air(at))), Wind: unit.Some(2.0), Cloud: unit.Some(0.2), Precip: unit.Some(0.0)})
	}
	return out, weather.Observation, nil
}

// air is 4 to 12 °C, or -14 °C from 19 h to 6 h of a hard night.
func (s *sky) air(at time.Time) float64 {
	l := at.In(chicago)
	if s.hard[farm.NightOf(at, chicago)] && (l.Hour() >= 19 || l.Hour() < 6) {
		return -14
	}
	return 8 - 4*math.Cos(2*math.Pi*float64(l.Hour()-3)/24)
}

func (s *sky) Fetch(_ context.Context, c forecast.Cell, _ forecast.Validators) (forecast.Document, error) {
	issued := s.now().Truncate(time.Hour)
	f := weather.Forecast{Source: "nws", Issued: issued, Layers: map[weather.Quantity][]weather.Interval{}}
	for q, value := range map[weather.Quantity]func(time.Time) float64{
		weather.Air: s.air, weather.DewPoint: func(at time.Time) float64 { return s.air(at) - 3 },
		weather.Wind: always(2), weather.Cloud: always(0.2), weather.Precip: always(0),
	} {
		for i := range 240 {
			at := issued.Add(time.Duration(i) * time.Hour)
			f.Layers[q] = append(f.Layers[q], weather.Interval{Start: at, End: at.Add(time.Hour), Value: unit.Some(value(at))})
		}
	}
	return forecast.Document{Cell: c, Forecast: f, Fetched: s.now()}, nil
}

func always(v float64) func(time.Time) float64 { return func(time.Time) float64 { return v } }

// fieldBench is a farm with a chard bed under a sky, from noon of the 3rd
// of November on.
type fieldBench struct {
	*testing.T
	commands.Service
	runner *round.Runner
	store  *sqlite.Store
	clock  time.Time
	farm   int64
	sky    *sky
	ada    int64
	bed    int64
}

func newFieldBench(t *testing.T) *fieldBench {
	t.Helper()
	opened, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	opened.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	b := &fieldBench{T: t, store: opened, clock: time.Date(2025, 11, 3, 12, 0, 0, 0, chicago)}
	now := func() time.Time { return b.clock }
	b.sky = &sky{now: now, hard: map[farm.Day]bool{}}
	b.runner = round.New(&scene.Reader{Store: opened.Store, Catalogue: catalogue, Log: slog.New(slog.DiscardHandler), Now: now, Members: 3}, b.sky)
	b.Service = commands.Service{Store: opened.Store, Catalogue: catalogue, Now: now}
	made, err := b.MakeToken(t.Context(), "Hill Farm", farm.ScopeWrite)
	require.NoError(t, err)
	b.farm = made.Farm.ID
	ada, err := b.AddRecipient(t.Context(), b.farm, commands.RecipientInput{Name: commands.Set("Ada"), Email: commands.Set("ada@hill.example")})
	require.NoError(t, err)
	b.ada = ada.ID
	field, err := b.AddField(t.Context(), b.farm, commands.FieldInput{Name: commands.Set("Upper terrace"), Latitude: commands.Set(45.0), Longitude: commands.Set(-93.0)})
	require.NoError(t, err)
	bed, err := b.AddBed(t.Context(), b.farm, commands.BedInput{FieldID: commands.Set(field.ID), Name: commands.Set("A1"), Crop: commands.Set("chard"),
		SownOn: commands.Set("2025-07-15"), StandingKg: commands.Set(50.0)})
	require.NoError(t, err)
	b.bed = bed.ID
	return b
}

// until does rounds every three hours up to a moment of the field's clock and
// gives what they told.
func (b *fieldBench) until(clock string) (told []store.Notice) {
	b.Helper()
	end, err := time.ParseInLocation("2006-01-02 15:04", clock, chicago)
	require.NoError(b, err)
	for ; !b.clock.After(end); b.clock = b.clock.Add(3 * time.Hour) {
		o, err := b.runner.Round(b.Context())
		require.NoError(b, err)
		told = append(told, o.Notices...)
	}
	return told
}

func (b *fieldBench) answer(n store.Notice, with string) {
	b.Helper()
	_, err := b.Answer(b.Context(), b.farm, n.ID, b.ada, commands.AnswerInput{Answer: commands.Set(with)})
	require.NoError(b, err)
}

func kinds(ns []store.Notice) []string {
	var out []string
	for _, n := range ns {
		out = append(out, n.Kind)
	}
	return out
}

// An answer is to the night it was asked about: it keeps the last call of that
// night back, and not that of a later one.
func TestAnAnswerSilencesTheLastCallOfItsOwnNight(t *testing.T) {
	b := newFieldBench(t)
	b.sky.hard["2025-11-06"] = true
	first := b.until("2025-11-03 18:00")
	require.Equal(t, []string{notice.HarvestBefore}, kinds(first))
	require.Equal(t, farm.Day("2025-11-06"), first[0].Night)
	b.answer(first[0], farm.Seen)
	assert.Empty(t, b.until("2025-11-06 12:00"), "answered: no last call")

	b.sky.hard["2025-11-06"] = false
	require.Equal(t, []string{notice.StandDown}, kinds(b.until("2025-11-07 15:00")), "it did not come")
	b.sky.hard["2025-11-10"] = true
	later := b.until("2025-11-10 18:00")
	require.Equal(t, []string{notice.HarvestBefore, notice.LastCall}, kinds(later), "nobody has answered for this night")
	assert.Equal(t, farm.Day("2025-11-10"), later[1].Night)
}

// A judgement says that a notice stood for its night: from the night that was
// told on, and for none before it or without a notice.
func TestJudgementsSayForWhichNightsANoticeStood(t *testing.T) {
	b := newFieldBench(t)
	require.Empty(t, b.until("2025-11-03 12:00"))
	b.sky.hard["2025-11-07"] = true
	require.Equal(t, []string{notice.HarvestBefore}, kinds(b.until("2025-11-04 12:00")))
	all, err := b.store.Judgements(t.Context(), b.farm, "2025-11-03", "2025-11-10")
	require.NoError(t, err)
	acted := map[int]map[farm.Day]bool{} // by day of the month on which it was judged
	for _, j := range all {
		day := j.IssuedAt.In(chicago).Day()
		if acted[day] == nil {
			acted[day] = map[farm.Day]bool{}
		}
		acted[day][j.Night] = j.Acted
	}
	assert.Equal(t, map[int]map[farm.Day]bool{
		3: {"2025-11-03": false, "2025-11-04": false, "2025-11-05": false, "2025-11-06": false, "2025-11-07": false, "2025-11-08": false, "2025-11-09": false},
		4: {"2025-11-04": false, "2025-11-05": false, "2025-11-06": false, "2025-11-07": true, "2025-11-08": true, "2025-11-09": true, "2025-11-10": true},
	}, acted)
}

// A grower's own weather changes what was: states that were reached after its
// first hour are computed anew, unless they are of the last two days, which are
// computed anew in any case.
func TestImportedHoursForgetTheStatesAfterThem(t *testing.T) {
	for back, kept := range map[int]bool{47: true, 49: false} {
		b := newFieldBench(t)
		b.until("2025-11-03 12:00")
		fields, err := b.store.Fields(t.Context(), b.farm, store.Page{})
		require.NoError(t, err)
		cell := fields[0].CellID
		require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error {
			return tx.SaveCheckpoints(t.Context(), cell, map[string]store.Checkpoint{"a state": {AsOf: b.clock.Add(-time.Hour), Body: []byte("{}")}})
		}))
		at := b.clock.Add(-time.Duration(back) * time.Hour).Truncate(time.Hour)
		require.NoError(t, b.runner.ImportHours(t.Context(), cell, []weather.Hour{{At: at, Air: unit.Some(unit.Celsius(3))}}))
		states, err := b.store.Checkpoints(t.Context(), cell)
		require.NoError(t, err)
		_, has := states["a state"]
		assert.Equal(t, kept, has, "hours from %d h back on", back)
	}
}
