package score

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/verdict"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// bench is a bed of chard over weather of the test's making: 4 °C all along, and
// -14 °C in the night of the 6th of November.
type bench struct {
	*testing.T
	Scorer
	store *sqlite.Store
	clock time.Time
	farm  int64
	cell  int64
	bed   int64
}

var zone = time.FixedZone("CST", -6*3600)

// nov is a local hour of November 2025.
func nov(day, hour int) time.Time { return time.Date(2025, 11, day, hour, 0, 0, 0, zone) }

func newBench(t *testing.T) *bench {
	t.Helper()
	opened, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	opened.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	b := &bench{T: t, store: opened, clock: nov(9, 18)}
	b.Scorer = Scorer{&scene.Reader{Store: opened.Store, SourceNames: []string{"nws"}, Catalogue: catalogue, Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return b.clock }, Members: 3}}
	b.write(func(tx store.Writer) {
		f := farm.New("Hill Farm", nov(1, 0))
		f.TimeZone = "Etc/GMT+6"
		b.farm, err = tx.AddFarm(t.Context(), f)
		require.NoError(t, err)
		field, err := tx.AddField(t.Context(), farm.Field{FarmID: b.farm, Name: "Upper", Latitude: 45, Longitude: -93, Soil: "loam", CreatedAt: nov(1, 0)})
		require.NoError(t, err)
		b.cell, err = tx.SaveCell(t.Context(), store.Cell{Key: "nws:TST/1,1", Latitude: 45, Longitude: -93, Elevation: unit.Some(300.0), TimeZone: "Etc/GMT+6", ResolvedAt: nov(1, 0)})
		require.NoError(t, err)
		require.NoError(t, tx.PlaceField(t.Context(), field, b.cell))
		b.bed, err = tx.AddBed(t.Context(), farm.Bed{FarmID: b.farm, FieldID: field, Name: "A1", Crop: "chard", Purpose: farm.Fresh, CreatedAt: nov(1, 0)})
		require.NoError(t, err)
		require.NoError(t, tx.PutHours(t.Context(), b.cell, weather.Observation, happened()))
	})
	b.judged(b.bed)
	return b
}

// happened are the hours from the 20th of October on.
func happened() (out []weather.Hour) {
	for at := nov(1, 0).AddDate(0, 0, -12).UTC(); at.Before(nov(9, 18)); at = at.Add(time.Hour) {
		air := unit.Celsius(4)
		if !at.Before(nov(6, 19)) && at.Before(nov(7, 6)) {
			air = -14
		}
		out = append(out, weather.Hour{At: at, Air: unit.Some(air), DewPoint: unit.Some(air - 3), Wind: unit.Some(2.0), Cloud: unit.Some(0.2), Precip: unit.Some(0.0)})
	}
	return out
}

func (b *bench) write(do func(store.Writer)) {
	b.Helper()
	require.NoError(b, b.store.Write(b.Context(), func(tx store.Writer) error { do(tx); return nil }))
}

// judged states something of every night of the 4th to the 12th, one and two
// days ahead: 2 K too warm the first, 1 K the second.
func (b *bench) judged(bed int64) {
	var js []store.Judgement
	for day := 4; day <= 12; day++ {
		low := 4.0
		if day == 6 {
			low = -14
		}
		for lead := 1; lead <= 2; lead++ {
			js = append(js, store.Judgement{FarmID: b.farm, BedID: bed, Crop: "chard", Night: farm.Day(fmt.Sprintf("2025-11-%02d", day)), LeadDays: lead,
				IssuedAt: nov(day, 12).AddDate(0, 0, -lead), Likelihood: 0.1, CostLoss: 0.2, AirMinC: low + float64(lead)})
		}
	}
	b.write(func(tx store.Writer) { require.NoError(b, tx.AddJudgements(b.Context(), js)) })
}

// outcomes are what the book says came of the nights.
func (b *bench) outcomes(bed int64) (lost, low map[farm.Day]unit.Maybe[float64]) {
	b.Helper()
	require.NoError(b, b.Score(b.Context()))
	all, err := b.store.Judgements(b.Context(), b.farm, "2025-11-01", "2025-11-30")
	require.NoError(b, err)
	lost, low = map[farm.Day]unit.Maybe[float64]{}, map[farm.Day]unit.Maybe[float64]{}
	for _, j := range all {
		if j.BedID != bed {
			continue
		}
		if seen, twice := lost[j.Night]; twice {
			require.Equal(b, seen, j.Lost, "all that was stated of a night has one outcome: %s", j.Night)
		}
		lost[j.Night], low[j.Night] = j.Lost, j.AirMinWas
	}
	return lost, low
}

// A mild night cost nothing, the night of -14 °C took the chard, and of the nights
// after it nobody can be right or wrong. The low is that of the bed's air.
func TestNightsAreScoredByWhatTheyBrought(t *testing.T) {
	b := newBench(t)
	lost, low := b.outcomes(b.bed)
	for _, night := range []farm.Day{"2025-11-04", "2025-11-05"} {
		assert.Equal(t, unit.Some(0.0), lost[night], night)
		assert.Equal(t, unit.Some(4.0), low[night], night)
	}
	assert.Greater(t, lost["2025-11-06"].Else(0), 0.9)
	assert.Equal(t, unit.Some(-14.0), low["2025-11-06"])
	for _, night := range []farm.Day{"2025-11-07", "2025-11-08", "2025-11-09", "2025-11-12"} { // lost before; not over; to come
		assert.False(t, lost[night].Known(), night)
	}
}

// A night is over at its noon, by the clock of the field.
func TestANightIsScoredWhenItIsOver(t *testing.T) {
	for hour, over := range map[int]bool{11: false, 12: true} {
		b := newBench(t)
		b.clock = nov(6, hour).Add(59 * time.Minute)
		lost, _ := b.outcomes(b.bed)
		assert.True(t, lost["2025-11-04"].Known())
		assert.Equal(t, over, lost["2025-11-05"].Known(), "%d h", hour)
	}
}

// What people found is what came of a night, and the bed stood for the next ones.
// What is scored is left as it is.
func TestAFindingDecidesANight(t *testing.T) {
	b := newBench(t)
	b.write(func(tx store.Writer) {
		_, err := tx.AddFinding(t.Context(), farm.Finding{FarmID: b.farm, BedID: b.bed, Night: "2025-11-06", LostFraction: 0.1, CreatedAt: nov(7, 13)})
		require.NoError(t, err)
		require.NoError(t, tx.ScoreJudgement(t.Context(), b.bed, "2025-11-04", 0.7, -9))
	})
	lost, low := b.outcomes(b.bed)
	assert.Equal(t, unit.Some(0.1), lost["2025-11-06"])
	assert.Equal(t, unit.Some(0.0), lost["2025-11-05"])
	assert.Equal(t, unit.Some(0.0), lost["2025-11-08"], "what was left came through it")
	assert.False(t, lost["2025-11-09"].Known(), "the night to come")
	assert.Equal(t, unit.Some(0.7), lost["2025-11-04"])
	assert.Equal(t, unit.Some(-9.0), low["2025-11-04"])
}

// A finding about one bed says nothing of another.
func TestAFindingIsOfItsOwnBed(t *testing.T) {
	b := newBench(t)
	var other int64
	b.write(func(tx store.Writer) {
		first, err := tx.Bed(t.Context(), b.farm, b.bed)
		require.NoError(t, err)
		first.ID, first.Name, first.Crop = 0, "A2", "kale-curly"
		other, err = tx.AddBed(t.Context(), first)
		require.NoError(t, err)
		_, err = tx.AddFinding(t.Context(), farm.Finding{FarmID: b.farm, BedID: other, Night: "2025-11-06", LostFraction: 0.05, CreatedAt: nov(7, 13)})
		require.NoError(t, err)
	})
	b.judged(other)
	lost, _ := b.outcomes(other)
	assert.Equal(t, unit.Some(0.05), lost["2025-11-06"])
	lost, _ = b.outcomes(b.bed)
	assert.Greater(t, lost["2025-11-06"].Else(0), 0.9)
}

// The cell learns its forecast's error by lead: a kelvin too warm a day ahead, two
// kelvins two days ahead, from each night once.
func TestTheForecastsErrorIsLearned(t *testing.T) {
	b := newBench(t)
	b.outcomes(b.bed)
	var got verdict.Verified
	require.NoError(t, store.Recall(t.Context(), b.store, fmt.Sprintf("cell:%d", b.cell), scene.VerifiedMemo, &got))
	var want verdict.Verified
	for _, night := range []unit.Celsius{4, 4, -14} {
		for lead := 1; lead <= 2; lead++ {
			want.Learn(lead, night+unit.Celsius(lead), night, night+unit.Celsius(lead))
		}
	}
	assert.NotZero(t, got)
	assert.Equal(t, want, got)
}
