package learn

import (
	"context"
	"database/sql"
	"encoding/json"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// school is a farm with chard over weather of 4 °C, and -7 °C in the night of the
// 6th of November, which is near what unhardened chard stands.
type school struct {
	*testing.T
	reader      *scene.Reader
	store       *sqlite.Store
	clock       time.Time
	farm, field int64
	cell        store.Cell
}

var zone = time.FixedZone("CST", -6*3600)

// nov is a local hour of November 2025.
func nov(day, hour int) time.Time { return time.Date(2025, 11, day, hour, 0, 0, 0, zone) }

func newSchool(t *testing.T) *school { return newSchoolSince(t, nov(1, 0).AddDate(0, 0, -12)) }

// newSchoolSince knows the weather from an hour on.
func newSchoolSince(t *testing.T, from time.Time) *school {
	t.Helper()
	opened, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	opened.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	s := &school{T: t, store: opened, clock: nov(9, 18)}
	s.reader = &scene.Reader{Store: opened.Store, SourceNames: []string{"nws"}, Catalogue: catalogue, Log: slog.New(slog.DiscardHandler),
		Now: func() time.Time { return s.clock }, Members: 3}
	s.write(func(tx store.Writer) {
		f := farm.New("Hill Farm", nov(1, 0))
		f.TimeZone = "Etc/GMT+6"
		s.farm, err = tx.AddFarm(t.Context(), f)
		require.NoError(t, err)
		s.field, err = tx.AddField(t.Context(), farm.Field{FarmID: s.farm, Name: "Upper", Latitude: 45, Longitude: -93, Soil: "loam", CreatedAt: nov(1, 0)})
		require.NoError(t, err)
		id, err := tx.SaveCell(t.Context(), store.Cell{Key: "nws:TST/1,1", Latitude: 45, Longitude: -93, Elevation: unit.Some(300.0), TimeZone: "Etc/GMT+6", ResolvedAt: nov(1, 0)})
		require.NoError(t, err)
		require.NoError(t, tx.PlaceField(t.Context(), s.field, id))
		require.NoError(t, tx.PutHours(t.Context(), id, weather.Observation, happened(from)))
	})
	s.cell, err = opened.CellByKey(t.Context(), "nws:TST/1,1")
	require.NoError(t, err)
	return s
}

// happened are the hours from one on.
func happened(from time.Time) (out []weather.Hour) {
	for at := from.UTC(); at.Before(nov(9, 18)); at = at.Add(time.Hour) {
		air := unit.Celsius(4)
		if !at.Before(nov(6, 19)) && at.Before(nov(7, 6)) {
			air = -7
		}
		out = append(out, weather.Hour{At: at, Air: unit.Some(air), DewPoint: unit.Some(air - 3), Wind: unit.Some(2.0), Cloud: unit.Some(1.0), Precip: unit.Some(0.0)})
	}
	return out
}

func (s *school) write(do func(store.Writer)) {
	s.Helper()
	require.NoError(s, s.store.Write(s.Context(), func(tx store.Writer) error { do(tx); return nil }))
}

func (s *school) bed(variety string) (id int64) {
	s.write(func(tx store.Writer) {
		var err error
		id, err = tx.AddBed(s.Context(), farm.Bed{FarmID: s.farm, FieldID: s.field, Name: "bed of " + variety, Crop: "chard", Variety: variety, Purpose: farm.Fresh, CreatedAt: nov(1, 0)})
		require.NoError(s, err)
	})
	return id
}

func (s *school) found(bed int64, night farm.Day, lost float64) {
	s.write(func(tx store.Writer) {
		_, err := tx.AddFinding(s.Context(), farm.Finding{FarmID: s.farm, BedID: bed, Night: night, LostFraction: lost, CreatedAt: nov(8, 9)})
		require.NoError(s, err)
	})
}

// learns has the findings heard and gives what the farm has been taught of a variety.
func (s *school) learns(variety string) (got scene.Taught) {
	s.Helper()
	laid, err := s.reader.Scene(s.Context(), s.cell, store.Forecast{})
	require.NoError(s, err)
	known, err := s.reader.Known(s.Context(), laid)
	require.NoError(s, err)
	require.NoError(s, Findings(s.Context(), known))
	require.NoError(s, store.Recall(s.Context(), s.store, scene.ToleranceOwner(s.farm, "chard", variety), scene.ToleranceMemo, &got))
	return got
}

// What came through a frost near its limit is hardier than the book has it, what
// went is less hardy, and a mild night says nothing either way.
func TestAFindingMovesTheTolerance(t *testing.T) {
	for _, c := range []struct {
		night farm.Day
		lost  float64
		sign  int
	}{{"2025-11-06", 0, -1}, {"2025-11-06", 1, 1}, {"2025-11-04", 0, 0}} {
		s := newSchool(t)
		s.found(s.bed("green"), c.night, c.lost)
		got := s.learns("green")
		assert.Equal(t, 1, got.Findings)
		assert.Positive(t, got.Sigma)
		switch {
		case c.sign < 0:
			assert.Less(t, float64(got.Offset), -0.05)
		case c.sign > 0:
			assert.Greater(t, float64(got.Offset), 0.05)
		default:
			assert.InDelta(t, 0, float64(got.Offset), 0.05)
		}
		assert.Zero(t, s.learns("red").Findings, "of another variety nothing was found")
	}
}

// Findings of all beds of a variety teach together; one more is heard with the
// others, and the same ones are not heard again.
func TestFindingsAreHeardOnceAndTogether(t *testing.T) {
	s := newSchool(t)
	one, two := s.bed("green"), s.bed("green")
	s.found(one, "2025-11-06", 0)
	first := s.learns("green")
	s.found(two, "2025-11-06", 0)
	both := s.learns("green")
	assert.Equal(t, 2, both.Findings)
	assert.Equal(t, 2, both.Nights)
	assert.Less(t, float64(both.Offset), float64(first.Offset), "two say more than one")
	marked := both
	marked.Offset = -9
	body, err := json.Marshal(marked)
	require.NoError(t, err)
	s.write(func(tx store.Writer) {
		require.NoError(t, tx.SetMemo(t.Context(), scene.ToleranceOwner(s.farm, "chard", "green"), scene.ToleranceMemo, body, nov(9, 0)))
	})
	assert.Equal(t, marked, s.learns("green"), "nothing new was found")
}

// A night teaches when it is over and the day before it is known too.
func TestANightTeachesWhenItIsKnownWholly(t *testing.T) {
	long, late := nov(1, 0), nov(9, 18)
	for _, c := range []struct {
		from, now time.Time
		nights    int
	}{{long, nov(7, 11), 0}, {long, nov(7, 12), 1}, {nov(5, 12), late, 1}, {nov(5, 13), late, 0}} {
		s := newSchoolSince(t, c.from)
		s.clock = c.now
		s.found(s.bed("green"), "2025-11-06", 0)
		got := s.learns("green")
		assert.Equal(t, 1, got.Findings, "heard, if only to be forgotten")
		assert.Equal(t, c.nights, got.Nights, "%s to %s", c.from, c.now)
	}
}

// What was found before a farm's tolerance was forgotten is not heard again.
func TestWhatIsForgottenDoesNotTeach(t *testing.T) {
	for since, heard := range map[time.Time]int{nov(8, 9): 1, nov(8, 10): 0} {
		s := newSchool(t)
		s.found(s.bed("green"), "2025-11-06", 0)
		body, err := json.Marshal(since)
		require.NoError(t, err)
		s.write(func(tx store.Writer) {
			require.NoError(t, tx.SetMemo(t.Context(), scene.ToleranceOwner(s.farm, "chard", "green"), scene.ToleranceSinceMemo, body, nov(9, 0)))
		})
		assert.Equal(t, heard, s.learns("green").Findings, since)
	}
}
