package storetest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// attempt writes a value that is not a number where the name of the case says.
type attempt func(ctx context.Context, w store.Writer, x world, v float64) error

func ofBed(set func(b *farm.Bed, v float64)) attempt {
	return func(ctx context.Context, w store.Writer, x world, v float64) error {
		b := farm.Bed{FarmID: x.farm, FieldID: x.field, Name: "n", CreatedAt: at(1, 0)}
		set(&b, v)
		_, err := w.AddBed(ctx, b)
		return err
	}
}

func ofField(set func(f *farm.Field, v float64)) attempt {
	return func(ctx context.Context, w store.Writer, x world, v float64) error {
		f, err := w.Field(ctx, x.farm, x.field)
		if err != nil {
			return err
		}
		set(&f.Field, v)
		return w.UpdateField(ctx, f.Field)
	}
}

func ofHour(set func(h *weather.Hour, v float64)) attempt {
	return func(ctx context.Context, w store.Writer, x world, v float64) error {
		h := weather.Hour{At: at(5, 4)}
		set(&h, v)
		return w.PutHours(ctx, x.cell, weather.Import, []weather.Hour{hourOf(5, 3, 0), h})
	}
}

func ofJudgement(set func(j *store.Judgement, v float64)) attempt {
	return func(ctx context.Context, w store.Writer, x world, v float64) error {
		j := judgement(x, "2026-11-14", 1)
		set(&j, v)
		return w.AddJudgements(ctx, []store.Judgement{j})
	}
}

func ofForecast(set func(f *weather.Forecast, v float64)) attempt {
	return func(ctx context.Context, w store.Writer, x world, v float64) error {
		f := fullForecast(x.cell)
		set(&f.Body, v)
		_, err := w.AddForecast(ctx, f)
		return err
	}
}

// notANumber: every quantity, and the words its refusal must hold.
func notANumber(t *testing.T, b *book) {
	x := settle(t, b, "one")
	for words, try := range numberCases {
		for name, v := range notNumbers {
			err := b.try(t, func(ctx context.Context, w store.Writer) error { return try(ctx, w, x, v) })
			require.ErrorContains(t, err, words, name)
		}
	}
	require.Empty(t, got(b.Hours(t.Context(), x.cell, at(1, 0), at(30, 0)))(t))
	require.Len(t, got(b.Beds(t.Context(), x.farm, store.BedFilter{}))(t), 1)
}

var numberCases = map[string]attempt{
	"standing_kg: must be":       ofBed(func(b *farm.Bed, v float64) { b.StandingKg = unit.Some(v) }),
	"price_per_kg: must be":      ofBed(func(b *farm.Bed, v float64) { b.PricePerKg = unit.Some(v) }),
	"lift_kg_per_hour: must be":  ofBed(func(b *farm.Bed, v float64) { b.LiftKgPerHour = unit.Some(v) }),
	"cost_loss: must be":         ofBed(func(b *farm.Bed, v float64) { b.CostLossSet = unit.Some(v) }),
	"tolerance_shift_k: must be": ofBed(func(b *farm.Bed, v float64) { b.ToleranceSet = unit.Some(unit.Kelvins(v)) }),
	"mulches: ":                  ofBed(func(b *farm.Bed, v float64) { b.Mulches = []farm.Mulch{{Cm: v}} }),
	"latitude: must be":          ofField(func(f *farm.Field, v float64) { f.Latitude = v }),
	"longitude: must be":         ofField(func(f *farm.Field, v float64) { f.Longitude = v }),
	"elevation_m: must be":       ofField(func(f *farm.Field, v float64) { f.Elevation = unit.Some(v) }),
	"low_spot_k: must be":        ofField(func(f *farm.Field, v float64) { f.LowSpot = unit.Kelvins(v) }),

	"hour 2026-11-05T04:00:00Z: air_c: must be":          ofHour(func(h *weather.Hour, v float64) { h.Air = unit.Some(unit.Celsius(v)) }),
	"hour 2026-11-05T04:00:00Z: dew_point_c: must be":    ofHour(func(h *weather.Hour, v float64) { h.DewPoint = unit.Some(unit.Celsius(v)) }),
	"hour 2026-11-05T04:00:00Z: wind_ms: must be":        ofHour(func(h *weather.Hour, v float64) { h.Wind = unit.Some(v) }),
	"hour 2026-11-05T04:00:00Z: cloud_fraction: must be": ofHour(func(h *weather.Hour, v float64) { h.Cloud = unit.Some(v) }),
	"hour 2026-11-05T04:00:00Z: precip_mm: must be":      ofHour(func(h *weather.Hour, v float64) { h.Precip = unit.Some(v) }),
	"hour 2026-11-05T04:00:00Z: snow_depth_cm: must be":  ofHour(func(h *weather.Hour, v float64) { h.SnowDepth = unit.Some(v) }),
	"hour 2026-11-05T04:00:00Z: shortwave_wm2: must be":  ofHour(func(h *weather.Hour, v float64) { h.Shortwave = unit.Some(v) }),

	"night 2026-11-14: likelihood: must be": ofJudgement(func(j *store.Judgement, v float64) { j.Likelihood = v }),
	"night 2026-11-14: cost_loss: must be":  ofJudgement(func(j *store.Judgement, v float64) { j.CostLoss = v }),
	"air_min_c: must be":                    ofJudgement(func(j *store.Judgement, v float64) { j.AirMinC = v }),
	"night 2026-11-14: lost_fraction: must": ofJudgement(func(j *store.Judgement, v float64) { j.Lost = unit.Some(v) }),
	"night 2026-11-14: air_min_was_c: must": ofJudgement(func(j *store.Judgement, v float64) { j.AirMinWas = unit.Some(v) }),

	"body: layer air at 2026-11-10T06:00:00Z: must be": ofForecast(func(f *weather.Forecast, v float64) {
		f.Layers = map[weather.Quantity][]weather.Interval{weather.Air: {{Start: at(10, 6), Value: unit.Some(v)}}}
	}),
	"body: member m1 at 2026-11-10T06:00:00Z: must be": ofForecast(func(f *weather.Forecast, v float64) {
		f.Members = []weather.Member{{Name: "m1", Air: []weather.Interval{{Start: at(10, 6), Value: unit.Some(v)}}}}
	}),

	"wind_chill_limit_c: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		f := farm.New("n", at(1, 0))
		f.WindChillLimit = unit.Celsius(v)
		_, err := w.AddFarm(ctx, f)
		return err
	},
	"crew: ": func(ctx context.Context, w store.Writer, x world, v float64) error {
		f := farm.New("n", at(1, 0))
		f.Crew = []farm.Shift{{Day: "mon", People: v}}
		_, err := w.AddFarm(ctx, f)
		return err
	},
	"temperature_c: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		_, err := w.AddRoom(ctx, farm.Room{FarmID: x.farm, Temperature: unit.Celsius(v), CreatedAt: at(1, 0)})
		return err
	},
	"humidity: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		_, err := w.AddRoom(ctx, farm.Room{FarmID: x.farm, Humidity: unit.Some(v), CreatedAt: at(1, 0)})
		return err
	},
	" kg: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		_, err := w.AddLot(ctx, farm.Lot{FarmID: x.farm, RoomID: 1, Kg: v, HarvestedAt: at(1, 0), CreatedAt: at(1, 0)})
		return err
	},
	" value: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		_, err := w.AddReadings(ctx, []farm.Reading{{FarmID: x.farm, FieldID: x.field, At: at(1, 0), Quantity: farm.ReadAir, Value: v}})
		return err
	},
	": lost_fraction: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		_, err := w.AddFinding(ctx, farm.Finding{FarmID: x.farm, BedID: x.bed, Night: "2026-11-14", LostFraction: v, CreatedAt: at(15, 0)})
		return err
	},
	"harvested_kg: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		_, err := w.AddAnswer(ctx, farm.Answer{FarmID: x.farm, NoticeID: 1, HarvestedKg: unit.Some(v), At: at(15, 0)})
		return err
	},
	"likelihood: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		n := notice(x, "moved", 0)
		n.Likelihood = unit.Some(v)
		_, err := w.AddNotice(ctx, n)
		return err
	},
	": likelihood: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		return w.SaveVerdicts(ctx, []store.Verdict{{BedID: x.bed, Kept: farm.Keep(farm.Verdict{Likelihood: unit.Some(v)})}})
	},
	"air_min_was_c: must be": func(ctx context.Context, w store.Writer, x world, v float64) error {
		return w.ScoreJudgement(ctx, x.bed, "2026-11-14", 0, v)
	},
}
