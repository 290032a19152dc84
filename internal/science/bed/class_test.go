package bed_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func chicago(t ftest) *time.Location {
	z, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return z
}

func classOf(t ftest, f farm.Field, b farm.Bed) bed.Class {
	return bed.ClassOf(placed(f, chicago(t)), b, microclimate.FieldBias{}, nil)
}

func TestCoversAndMulchCountFromTheirLocalDay(t *testing.T) {
	zone := chicago(t)
	c := classOf(t, farm.Field{}, farm.Bed{
		Covers:  []farm.Cover{{Kind: "row_cover_light", On: "2025-10-10", Off: "2025-11-01"}, {Kind: "low_tunnel", On: "2025-10-25"}},
		Mulches: []farm.Mulch{{Cm: 5}, {Cm: 20, On: "2025-11-20"}},
	})
	for _, x := range []struct {
		at    string
		cover microclimate.Cover
		mulch float64
	}{
		{"2020-01-01 00:00", "none", 5},
		{"2025-10-09 23:59", "none", 5},
		{"2025-10-10 00:00", "row_cover_light", 5},
		{"2025-10-25 00:00", "low_tunnel", 5}, // the one put on last
		{"2025-11-02 00:30", "low_tunnel", 5}, // the night that clocks go back in
		{"2025-11-20 00:00", "low_tunnel", 20},
		{"2026-03-01 00:00", "low_tunnel", 20},
	} {
		at, err := time.ParseInLocation("2006-01-02 15:04", x.at, zone)
		require.NoError(t, err)
		over := c.Over(at)
		assert.Equal(t, x.cover, over.Cover, x.at)
		assert.Equal(t, x.mulch, over.MulchCm, x.at)
	}
}

// Beds share what they can: the same place, soil and covers are one class,
// whatever grows there; anything that the ground feels makes another.
func TestWhatIsSharedAndWhatIsNot(t *testing.T) {
	zone := chicago(t)
	class := func(change func(*farm.Field, *farm.Bed, *microclimate.FieldBias, *[]bed.SnowReading)) string {
		f, b := farm.Field{ID: 1, Name: "one"}, farm.Bed{ID: 1, Name: "A", Crop: "chard"}
		var bias microclimate.FieldBias
		var snow []bed.SnowReading
		change(&f, &b, &bias, &snow)
		return bed.ClassOf(placed(f, zone), b, bias, snow).Key()
	}
	type args = func(*farm.Field, *farm.Bed, *microclimate.FieldBias, *[]bed.SnowReading)
	base := class(func(*farm.Field, *farm.Bed, *microclimate.FieldBias, *[]bed.SnowReading) {})
	for name, same := range map[string]args{
		"another bed": func(_ *farm.Field, b *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) {
			b.ID, b.Name = 2, "B"
		},
		"another crop": func(_ *farm.Field, b *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) { b.Crop = "kale" },
		"another field of it": func(f *farm.Field, _ *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) {
			f.ID, f.Name = 9, "x"
		},
		"loam by name": func(f *farm.Field, _ *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) { f.Soil = "loam" },
		"a hair of bias": func(_ *farm.Field, _ *farm.Bed, l *microclimate.FieldBias, _ *[]bed.SnowReading) {
			l.Calm.MeanK = 0.04
		},
		"more nights read": func(_ *farm.Field, _ *farm.Bed, l *microclimate.FieldBias, _ *[]bed.SnowReading) { l.Calm.Nights = 7 },
	} {
		assert.Equal(t, base, class(same), name)
	}
	seen := map[string]string{base: "base"}
	for name, other := range map[string]args{
		"another soil": func(f *farm.Field, _ *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) { f.Soil = "sand" },
		"a low spot":   func(f *farm.Field, _ *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) { f.LowSpot = 2 },
		"higher up": func(f *farm.Field, _ *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) {
			f.Elevation = unit.Some(800.0)
		},
		"a learned bias": func(_ *farm.Field, _ *farm.Bed, l *microclimate.FieldBias, _ *[]bed.SnowReading) { l.Calm.MeanK = -1 },
		"a cover": func(_ *farm.Field, b *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) {
			b.Covers = []farm.Cover{{Kind: "low_tunnel", On: "2025-10-01"}}
		},
		"straw": func(_ *farm.Field, b *farm.Bed, _ *microclimate.FieldBias, _ *[]bed.SnowReading) {
			b.Mulches = []farm.Mulch{{Cm: 10}}
		},
		"a snow reading": func(_ *farm.Field, _ *farm.Bed, _ *microclimate.FieldBias, s *[]bed.SnowReading) {
			*s = []bed.SnowReading{{At: 0, Cm: 3}}
		},
	} {
		key := class(other)
		was, taken := seen[key]
		assert.False(t, taken, "%s has the class of %s", name, was)
		seen[key] = name
	}
	grown := bed.ClassOf(placed(farm.Field{}, zone), farm.Bed{}, microclimate.FieldBias{}, nil)
	assert.NotEqual(t, grown.Growing(cropOf(t, "carrot")).Key(), grown.Growing(cropOf(t, "chard")).Key(), "matted tops lie over roots")
}

// What if: from an instant on another cover or mulch lies there, and what is
// planned of the other stays planned.
func TestUnderChangesOneThingFromAnInstantOn(t *testing.T) {
	at := func(s string) time.Time {
		when, err := time.ParseInLocation("2006-01-02", s, chicago(t))
		require.NoError(t, err)
		return when
	}
	plan := classOf(t, farm.Field{}, farm.Bed{
		Covers:  []farm.Cover{{Kind: "row_cover_light", On: "2025-10-10"}, {Kind: "low_tunnel", On: "2025-11-20"}},
		Mulches: []farm.Mulch{{Cm: 10, On: "2025-12-01"}},
	})
	for _, c := range []struct {
		name        string
		got         bed.Class
		at          string
		cover       microclimate.Cover
		mulch       float64
		isUnchanged bool
	}{
		{"before it, nothing changes", plan.Under(at("2025-11-01"), "low_tunnel_fabric", -1), "2025-10-20", "row_cover_light", 0, true},
		{"a cover from then on", plan.Under(at("2025-11-01"), "low_tunnel_fabric", -1), "2025-11-02", "low_tunnel_fabric", 0, false},
		{"it stays on", plan.Under(at("2025-11-01"), "low_tunnel_fabric", -1), "2025-11-25", "low_tunnel_fabric", 0, false},
		{"the straw that is planned comes", plan.Under(at("2025-11-01"), "low_tunnel_fabric", -1), "2025-12-02", "low_tunnel_fabric", 10, false},
		{"straw from then on", plan.Under(at("2025-11-01"), "", 20), "2025-11-02", "row_cover_light", 20, false},
		{"the tunnel that is planned comes", plan.Under(at("2025-11-01"), "", 20), "2025-11-25", "low_tunnel", 20, false},
		{"straw off", plan.Under(at("2025-12-05"), "", 0), "2025-12-06", "low_tunnel", 0, false},
		{"both", plan.Under(at("2025-11-01"), "none", 15), "2025-12-24", "none", 15, false},
		{"nothing asked, nothing changed", plan.Under(at("2025-11-01"), "", -1), "2025-12-24", "low_tunnel", 10, true},
	} {
		over := c.got.Over(at(c.at))
		assert.Equal(t, c.cover, over.Cover, c.name)
		assert.Equal(t, c.mulch, over.MulchCm, c.name)
		was := plan.Over(at(c.at))
		assert.Equal(t, c.isUnchanged, over.Cover == was.Cover && over.MulchCm == was.MulchCm, c.name)
	}
	assert.Len(t, plan.Spans, 4, "the class asked about is as it was")
}

// The bias is that of the night: cold air does not lie in a hollow by day.
func TestTheFieldsBiasIsForTheNight(t *testing.T) {
	c := classOf(t, farm.Field{LowSpot: 3}, farm.Bed{})
	local := func(hourOfDay int) time.Time { return time.Date(2025, 11, 14, hourOfDay+6, 0, 0, 0, time.UTC) }
	for _, x := range []struct {
		hour  int // local standard time; the sun rises at about 7:15 and sets at 16:35
		cloud float64
		want  float64
	}{
		{0, 0, -3}, {6, 0, -3}, {7, 0, -3}, {9, 0, -3}, {10, 0, 0}, {13, 0, 0}, {16, 0, 0}, {17, 0, -3}, {23, 0, -3},
		{2, 1, -1.5}, // under cloud the air is mixed
		{13, 1, 0},
	} {
		h := hour(local(x.hour), 4)
		h.Cloud, h.Wind = unit.Some(x.cloud), unit.Some(1.0)
		got, _ := c.At(h).Air.Get()
		assert.InDelta(t, 4+x.want, float64(got), 1e-9, "%02d h, cloud %v", x.hour, x.cloud)
		dew, _ := c.At(h).DewPoint.Get()
		assert.LessOrEqual(t, dew, got, "air is not moister than full")
	}
}

func TestShiftKeepsMissingMissing(t *testing.T) {
	var h weather.Hour
	assert.False(t, bed.Shift(h, -3).Air.Known())
	h.Air = unit.Some(unit.Celsius(1))
	shifted := bed.Shift(h, -3)
	assert.Equal(t, unit.Some(unit.Celsius(-2)), shifted.Air)
	assert.False(t, shifted.DewPoint.Known())
}

// A ruler overrides what the model and the forecast say.
func TestASnowReadingIsPutIn(t *testing.T) {
	at := noon
	c := bed.ClassOf(placed(farm.Field{}, time.UTC), farm.Bed{}, microclimate.FieldBias{}, []bed.SnowReading{{At: at.Unix(), Cm: 25}})
	h := hour(at, -3)
	h.SnowDepth = unit.Some(5.0)
	assert.Equal(t, unit.Some(25.0), c.At(h).SnowDepth)
	h.At = at.Add(time.Hour)
	assert.Equal(t, unit.Some(5.0), c.At(h).SnowDepth)

	plants := plantsOf(t, "kale-curly")
	b := bed.NewBook(&c, plants, at)
	require.NoError(t, b.Advance(&c, plants, steady(at, 2, -3)))
	assert.InDelta(t, 25, b.Ground.SnowCm(), 2)
}
