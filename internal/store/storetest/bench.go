package storetest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Bench measures what one round does to one cell: many beds of many farms that
// share a forecast. Every figure is per cell; rows/s is reported beside it.
func Bench(b *testing.B, s store.Store) {
	const beds, lead = 1000, 8
	cell, all := crowd(b, s, beds)
	vs := make([]store.Verdict, beds)
	js := make([]store.Judgement, 0, beds*lead)
	judged := farm.Keep(farm.Verdict{State: farm.Holds, Likelihood: unit.Some(0.1), Night: "2026-11-14", Missing: []farm.Gap{{What: farm.GapRefused, Says: strings.Repeat("x", 1500)}}})
	told := farm.Event{Phase: farm.Told, Night: farm.Day(strings.Repeat("x", 1500))}
	for i, bed := range all {
		vs[i] = store.Verdict{BedID: bed.ID, Kept: judged, Event: told}
		for d := range lead {
			js = append(js, store.Judgement{FarmID: bed.FarmID, BedID: bed.ID, LeadDays: d, Crop: "kale", Likelihood: 0.1, AirMinC: -5})
		}
	}
	hours := make([]weather.Hour, 365*24)
	for i := range hours {
		hours[i] = weather.Hour{At: at(1, 0).Add(time.Duration(i) * time.Hour), Air: unit.Some(unit.Celsius(-3.1)), Wind: unit.Some(2.5), SnowDepth: unit.Some(10.0)}
	}
	night := farm.Day("2026-11-14")
	measure(b, "SaveVerdicts", beds, s, func(ctx context.Context, w store.Writer) error { return w.SaveVerdicts(ctx, vs) })
	measure(b, "AddJudgements", beds*lead, s, func(ctx context.Context, w store.Writer) error {
		night = night.Add(1)
		for i := range js {
			js[i].Night = night
		}
		return w.AddJudgements(ctx, js)
	})
	measure(b, "PutHours", len(hours), s, func(ctx context.Context, w store.Writer) error {
		return w.PutHours(ctx, cell, weather.Reanalysis, hours)
	})
	ask(b, "BedsOfCell", beds, func(ctx context.Context) (int, error) { l, err := s.BedsOfCell(ctx, cell); return len(l), err })
	ask(b, "VerdictsOfCell", beds, func(ctx context.Context) (int, error) { l, err := s.VerdictsOfCell(ctx, cell); return len(l), err })
	ask(b, "Hours", len(hours), func(ctx context.Context) (int, error) {
		l, err := s.Hours(ctx, cell, at(1, 0), at(1, 0).AddDate(1, 0, 0))
		return len(l), err
	})
}

// crowd is one cell with n beds of n/10 farms.
func crowd(b *testing.B, s store.Store, n int) (cell int64, all []farm.Bed) {
	ctx := context.Background()
	require.NoError(b, s.Write(ctx, func(w store.Writer) (err error) {
		if cell, err = w.SaveCell(ctx, store.Cell{Key: "crowded"}); err != nil {
			return err
		}
		for i := range n / 10 {
			farmID, err := w.AddFarm(ctx, farm.New(fmt.Sprint("farm ", i), at(1, 0)))
			if err != nil {
				return err
			}
			field, err := w.AddField(ctx, farm.Field{FarmID: farmID, Name: "only", CreatedAt: at(1, 0)})
			if err != nil {
				return err
			}
			if err := w.PlaceField(ctx, field, cell); err != nil {
				return err
			}
			for range 10 {
				bed := farm.Bed{FarmID: farmID, FieldID: field, Name: "b", Crop: "kale", CreatedAt: at(1, 0),
					Covers: []farm.Cover{{Kind: "low_tunnel", On: "2026-11-01"}}, StandingKg: unit.Some(20.0)}
				if bed.ID, err = w.AddBed(ctx, bed); err != nil {
					return err
				}
				all = append(all, bed)
			}
		}
		return nil
	}))
	return cell, all
}

func measure(b *testing.B, name string, rows int, s store.Store, fn func(ctx context.Context, w store.Writer) error) {
	ask(b, name, rows, func(ctx context.Context) (int, error) {
		return rows, s.Write(ctx, func(w store.Writer) error { return fn(ctx, w) })
	})
}

func ask(b *testing.B, name string, rows int, fn func(ctx context.Context) (int, error)) {
	b.Run(name, func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			n, err := fn(context.Background())
			require.NoError(b, err)
			require.Equal(b, rows, n)
		}
		b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
	})
}
