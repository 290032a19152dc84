package plan_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/unit"
)

// noon of the farm, a Monday.
var noon = time.Date(2026, 11, 9, 18, 0, 0, 0, time.UTC)

// bench is a reader over a real book, with a clock that can be set.
type bench struct {
	*testing.T
	commands.Service
	plan.Reader
	store *sqlite.Store
	clock time.Time
	farm  int64
	field store.Field
}

func newBench(t *testing.T) *bench {
	t.Helper()
	opened, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	opened.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	b := &bench{T: t, store: opened, clock: noon}
	now := func() time.Time { return b.clock }
	b.Service = commands.Service{Store: opened.Store, Catalogue: catalogue, Now: now}
	b.Reader = plan.Reader{Books: opened.Reader, Catalogue: catalogue, Now: now}
	made, err := b.MakeToken(t.Context(), "Hill Farm", farm.ScopeWrite)
	require.NoError(t, err)
	b.farm = made.Farm.ID
	b.change(commands.FarmInput{TimeZone: commands.Set("America/Chicago")})
	b.field, err = b.AddField(t.Context(), b.farm, commands.FieldInput{Name: commands.Set("Top"), Latitude: commands.Set(44.9), Longitude: commands.Set(-93.2), Elevation: commands.Set(270.0)})
	require.NoError(t, err)
	return b
}

func (b *bench) change(in commands.FarmInput) {
	b.Helper()
	_, err := b.ChangeFarm(b.Context(), b.farm, commands.Seen{}, in)
	require.NoError(b, err)
}

func (b *bench) room(kind string, celsius, capacity float64) farm.Room {
	b.Helper()
	in := commands.RoomInput{Name: commands.Set(kind), Kind: commands.Set(kind), Temperature: commands.Set(celsius), Humidity: commands.Set(0.95)}
	if capacity > 0 {
		in.CapacityKg = commands.Set(capacity)
	}
	r, err := b.AddRoom(b.Context(), b.farm, in)
	require.NoError(b, err)
	return r
}

func (b *bench) lot(room farm.Room, crop, container string, kg float64, ago time.Duration) farm.Lot {
	b.Helper()
	l, err := b.AddLot(b.Context(), b.farm, commands.LotInput{RoomID: commands.Set(room.ID), Crop: commands.Set(crop), Kg: commands.Set(kg),
		Container: commands.Set(container), HarvestedAt: commands.Set(b.clock.Add(-ago))})
	require.NoError(b, err)
	return l
}

// kept is a lot with its clocks.
func (b *bench) kept(id int64) plan.Lot {
	b.Helper()
	rooms, err := b.Stores(b.Context(), b.farm)
	require.NoError(b, err)
	for _, r := range rooms {
		for _, l := range r.Lots {
			if l.ID == id {
				return l
			}
		}
	}
	b.Fatalf("lot %d is in no room", id)
	return plan.Lot{}
}

func (b *bench) bed(name, crop string, kg float64, in commands.BedInput) farm.Bed {
	b.Helper()
	in.FieldID, in.Name, in.Crop = commands.Set(b.field.ID), commands.Set(name), commands.Set(crop)
	if kg >= 0 {
		in.StandingKg = commands.Set(kg)
	}
	bed, err := b.AddBed(b.Context(), b.farm, in)
	require.NoError(b, err)
	return bed
}

// judge writes a verdict as a round would.
func (b *bench) judge(bed farm.Bed, v farm.Verdict) {
	b.Helper()
	if v.Forecast.Issued.IsZero() {
		v.Forecast.Issued = b.clock
	}
	require.NoError(b, b.store.Write(b.Context(), func(tx store.Writer) error {
		return tx.SaveVerdicts(b.Context(), []store.Verdict{{BedID: bed.ID, Kept: farm.Keep(v)}})
	}))
}

// due is a verdict with a deadline some hours ahead and the days' windows before.
func due(hours, likelihood float64) farm.Verdict {
	by := noon.Add(time.Duration(hours * float64(time.Hour)))
	v := farm.Verdict{State: farm.HarvestBefore, AsOf: noon, HarvestBefore: unit.Some(by), Likelihood: unit.Some(likelihood),
		SoldLeft: 1, LossShare: 0.2, Nights: []farm.NightRisk{{Night: farm.NightOf(by.Add(8*time.Hour), time.UTC), Likelihood: likelihood}}}
	for at := noon; at.Before(by); at = at.Add(24 * time.Hour) {
		v.Windows = append(v.Windows, farm.Window{Start: at, End: at.Add(4 * time.Hour)})
	}
	return v
}

func holds() farm.Verdict {
	return farm.Verdict{State: farm.Holds, AsOf: noon, SoldLeft: 1, Likelihood: unit.Some(0.01),
		Nights: []farm.NightRisk{{Night: "2026-11-09", Likelihood: 0}, {Night: "2026-11-18", Likelihood: 0.01}}}
}

func speaker(language string, units unit.System) phrase.Speaker {
	return phrase.Speaker{Book: phrase.MustLoad(), Language: language, Units: units, Zone: time.UTC}
}
