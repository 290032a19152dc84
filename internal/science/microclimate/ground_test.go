package microclimate

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func TestSavedAndResumedIsTheSameBits(t *testing.T) {
	on := Dressing{MulchCm: 8, Surface: Grass}
	hours := changeableHours(24 * 40)
	hours[300].SnowDepth = unit.Some(14.0)
	straight := NewGround(loamAt45, winterStart)
	textual, binaries := straight, straight
	for i, h := range hours {
		require.NoError(t, straight.Step(&loamAt45, on, h))
		require.NoError(t, textual.Step(&loamAt45, on, h))
		require.NoError(t, binaries.Step(&loamAt45, on, h))
		if i%37 == 0 {
			textual = throughJSON(t, textual)
			binaries = throughBinary(t, binaries)
		}
	}
	require.Greater(t, straight.SnowCm(), 1.0, "the course must leave snow")
	assert.Equal(t, bits(t, straight), bits(t, textual))
	assert.Equal(t, bits(t, straight), bits(t, binaries))
}

func throughJSON(t *testing.T, g Ground) Ground {
	var back Ground
	text, err := json.Marshal(g)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &back))
	return back
}

func throughBinary(t *testing.T, g Ground) Ground {
	var back Ground
	require.NoError(t, binary.Read(bytes.NewReader(bits(t, g)), binary.LittleEndian, &back))
	return back
}

func bits(t *testing.T, g Ground) []byte {
	var b bytes.Buffer
	require.NoError(t, binary.Write(&b, binary.LittleEndian, g))
	return b.Bytes()
}

func TestStepNamesWhatIsMissingOrImpossible(t *testing.T) {
	good := hourOf(winterStart, -3, 0.5, 2)
	for _, r := range []struct {
		name   string
		change func(h *weather.Hour)
		want   string
	}{
		{"no air", func(h *weather.Hour) { h.Air = unit.None[unit.Celsius]() }, "air temperature is missing"},
		{"air NaN", func(h *weather.Hour) { h.Air = unit.Some(unit.Celsius(math.NaN())) }, "air temperature NaN"},
		{"air in °F", func(h *weather.Hour) { h.Air = unit.Some(unit.Celsius(80)) }, "air temperature 80: must be between -90 and 65 °C"},
		{"dew NaN", func(h *weather.Hour) { h.DewPoint = unit.Some(unit.Celsius(math.NaN())) }, "dew point NaN"},
		{"wind NaN", func(h *weather.Hour) { h.Wind = unit.Some(math.NaN()) }, "wind NaN"},
		{"wind below 0", func(h *weather.Hour) { h.Wind = unit.Some(-1.0) }, "wind -1"},
		{"cloud in %", func(h *weather.Hour) { h.Cloud = unit.Some(50.0) }, "cloud 50: must be between 0 and 1 as a fraction"},
		{"cloud NaN", func(h *weather.Hour) { h.Cloud = unit.Some(math.NaN()) }, "cloud NaN"},
		{"precipitation NaN", func(h *weather.Hour) { h.Precip = unit.Some(math.NaN()) }, "precipitation NaN"},
		{"snow below 0", func(h *weather.Hour) { h.SnowDepth = unit.Some(-99.0) }, "snow depth -99"},
		{"sun NaN", func(h *weather.Hour) { h.Shortwave = unit.Some(math.NaN()) }, "shortwave radiation NaN"},
		{"an hour too late", func(h *weather.Hour) { h.At = h.At.Add(time.Hour) }, "the ground's next hour is 2025-11-01T00:00:00Z"},
	} {
		t.Run(r.name, func(t *testing.T) {
			g := NewGround(loamAt45, winterStart)
			before, h := g, good
			r.change(&h)
			assert.ErrorContains(t, g.Step(&loamAt45, Dressing{}, h), r.want)
			assert.Equal(t, before, g, "the state stays as it was")
			if h.At.Equal(good.At) {
				_, err := g.Leaf(&loamAt45, Dressing{}, h, 20)
				assert.ErrorContains(t, err, r.want)
			}
		})
	}
}

func TestStepRefusesAWrongBedOrPlace(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	h := hourOf(winterStart, -3, 0.5, 2)
	for want, on := range map[string]Dressing{
		`cover "tarp"`: {Cover: "tarp"}, `surface "lava"`: {Surface: "lava"},
		"mulch -1 cm": {MulchCm: -1}, "mulch NaN cm": {MulchCm: math.NaN()}, "cover draw NaN": {Draw: math.NaN()},
	} {
		assert.ErrorContains(t, g.Step(&loamAt45, on, h), want)
	}
	for want, site := range map[string]Site{
		"latitude NaN": {Latitude: math.NaN()}, "longitude 400": {Longitude: 400},
		"elevation 9999": {ElevationM: 9999}, `soil "mud"`: {Soil: "mud"},
	} {
		assert.ErrorContains(t, g.Step(&site, Dressing{}, h), want)
	}
}

func TestUnknownPrecipitationIsCounted(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	h := hourOf(winterStart, -3, 0.5, 2)
	require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
	assert.Zero(t, g.BlindHours, "a dry hour is known")
	h.At, h.Precip = h.At.Add(time.Hour), unit.None[float64]()
	require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
	assert.EqualValues(t, 1, g.BlindHours)
	h.At, h.SnowDepth = h.At.Add(time.Hour), unit.Some(0.0)
	require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
	assert.EqualValues(t, 1, g.BlindHours, "a snow depth says what lies there")
}

func TestOnlyAirIsEnough(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	for i := range 48 {
		h := weather.Hour{At: winterStart.Add(time.Duration(i) * time.Hour), Air: unit.Some[unit.Celsius](-5)}
		require.NoError(t, g.Step(&loamAt45, Dressing{}, h))
		l, err := g.Leaf(&loamAt45, Dressing{}, h, 20)
		require.NoError(t, err)
		if !SunUp(h.At.Add(-time.Hour), 45, -92) && !SunUp(h.At.Add(2*time.Hour), 45, -92) {
			// The typical depression of a leaf on a night of which only the air is known.
			assert.InDelta(t, -6, float64(l), 0.7)
		}
	}
}

func TestNothingEverStopsBeingANumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := Site{
			Latitude:  rapid.Float64Range(-65, 65).Draw(t, "latitude"),
			Longitude: rapid.Float64Range(-180, 180).Draw(t, "longitude"),
			Soil:      rapid.SampledFrom(Soils()).Draw(t, "soil"),
		}
		on := Dressing{
			Cover:   rapid.SampledFrom(Covers()).Draw(t, "cover"),
			Draw:    rapid.Float64Range(-4, 4).Draw(t, "draw"),
			Surface: rapid.SampledFrom([]Surface{"", Bare, Stand, Grass, Litter}).Draw(t, "surface"),
			MulchCm: rapid.SampledFrom([]float64{0, 1e-17, 0.3, 5, 30}).Draw(t, "mulch"),
		}
		g := NewGround(site, winterStart)
		for i := range 60 {
			h := wildHour(t, winterStart.Add(time.Duration(i)*time.Hour))
			if err := g.Step(&site, on, h); err != nil {
				t.Fatal(err)
			}
			checkFinite(t, &g)
		}
	})
}

func wildHour(t *rapid.T, at time.Time) weather.Hour {
	maybe := func(name string, lo, hi float64) unit.Maybe[float64] {
		if rapid.IntRange(0, 3).Draw(t, name+" known") == 0 {
			return unit.None[float64]()
		}
		return unit.Some(rapid.Float64Range(lo, hi).Draw(t, name))
	}
	air := rapid.Float64Range(-45, 35).Draw(t, "air")
	h := weather.Hour{At: at, Air: unit.Some(unit.Celsius(air)), Wind: maybe("wind", 0, 40),
		Cloud: maybe("cloud", 0, 1), Precip: maybe("precip", 0, 30), Shortwave: maybe("sun", 0, 1000)}
	if rapid.IntRange(0, 5).Draw(t, "ruler") == 0 {
		h.SnowDepth = maybe("snow", 0, 200)
	}
	return h
}

func checkFinite(t *rapid.T, g *Ground) {
	for _, v := range append(g.SoilC[:], g.SurfaceC, g.BaseC, g.SkinC, g.SnowCm(), g.FrozenCm(), g.Snow.WaterMM()) {
		if !(v > -150 && v < 1e4) {
			t.Fatalf("%v in %+v", v, *g)
		}
	}
	if g.SnowCm() < 0 || g.Snow.Layers < 0 || g.Snow.Layers > SnowLayers {
		t.Fatalf("snow %+v", g.Snow)
	}
	for i := range g.Snow.Layers {
		if g.Snow.TempC[i] > 0 || g.Snow.IceKgM2[i] < 0 || g.Snow.WetKgM2[i] < 0 || g.Snow.ThickM[i] <= 0 {
			t.Fatalf("snow layer %d of %+v", i, g.Snow)
		}
	}
}

func TestFirstProfile(t *testing.T) {
	autumn := NewGround(loamAt45, time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC))
	assert.Greater(t, autumn.SoilC[20], autumn.SoilC[0], "in autumn it is warmer below")
	spring := NewGround(loamAt45, time.Date(2025, 5, 1, 0, 0, 0, 0, time.UTC))
	assert.Less(t, spring.SoilC[20], spring.SoilC[0], "in spring it is colder below")
	south := loamAt45
	south.Latitude = -45
	assert.InDelta(t, spring.SoilC[5], NewGround(south, time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)).SoilC[5], 1.5)
	given := loamAt45
	given.Mean, given.Amplitude = unit.Some[unit.Celsius](12), unit.Some[unit.Kelvins](0)
	for _, c := range NewGround(given, winterStart).SoilC {
		assert.InDelta(t, 12, c, 1e-6, "no wave, no profile")
	}
	// Normals 1991–2020 of the air, from memory.
	for _, r := range []struct{ latitude, elevation, mean, wave float64 }{
		{44.9, 255, 8.0, 16.5}, // Minneapolis
		{44.8, 58, 7.3, 14.0},  // Bangor
		{44.5, 101, 8.3, 14.8}, // Burlington
		{40.0, 248, 11.8, 13},  // Columbus
		{49.9, 239, 3.1, 18},   // Winnipeg
	} {
		s := Site{Latitude: r.latitude, ElevationM: r.elevation}
		assert.InDelta(t, r.mean, float64(s.MeanAir()), 3, "%v", r)
		assert.InDelta(t, r.wave, float64(s.AirAmplitude()), 3, "%v", r)
	}
}

func TestSoilAtAndCrust(t *testing.T) {
	g := NewGround(loamAt45, winterStart)
	g.SurfaceC = -4
	for i := range g.SoilC {
		g.SoilC[i] = -4 + 100*soilMiddle[i]*0.5 // 0 °C at 8 cm
	}
	assert.Equal(t, unit.Celsius(-4), g.SoilAt(0))
	assert.InDelta(t, -1.5, float64(g.SoilAt(5)), 1e-9)
	assert.InDelta(t, -4+0.5*1.25, float64(g.Shoulder(2.5)), 1e-9)
	assert.Equal(t, unit.Celsius(g.SoilC[SoilLayers-1]), g.SoilAt(10000))
	assert.InDelta(t, 7.5, g.FrozenCm(), 1.5)
	assert.False(t, g.Diggable(3))
	assert.True(t, g.Diggable(12))
	g.SoilC[0], g.SoilC[1] = 2, 1
	assert.Greater(t, g.FrozenCm(), 3.0, "mud on top does not hide the crust")
	for i := range g.SoilC {
		g.SoilC[i] = 3
	}
	g.SoilC[18] = -1
	assert.Zero(t, g.FrozenCm(), "frost far below stops no fork")
	assert.Equal(t, g.SurfaceC, float64(g.Crown()))
}

func TestGridEndsAtEightMetres(t *testing.T) {
	sum := 0.0
	for i, dz := range soilThick {
		sum += dz
		if i > 0 {
			assert.Greater(t, dz, soilThick[i-1])
		}
	}
	assert.InDelta(t, ColumnM, sum, 1e-9)
	assert.InDelta(t, 0.01, soilThick[0], 1e-12)
}

func TestStrawSettlesAndComesOff(t *testing.T) {
	assert.InDelta(t, 0.15, settledM(15, 0), 1e-12)
	assert.InDelta(t, 0.075, settledM(15, 24*365), 1e-6, "to about half")
	g := NewGround(loamAt45, winterStart)
	hours := changeableHours(40)
	for i, h := range hours {
		on := Dressing{MulchCm: 15}
		if i >= 20 {
			on.MulchCm = 0
		}
		require.NoError(t, g.Step(&loamAt45, on, h))
		if i == 19 {
			assert.EqualValues(t, 20, g.StrawHours)
		}
	}
	assert.Zero(t, g.StrawCm)
	assert.Zero(t, g.StrawHours)
}

// A bare surface is colder than the air on a clear night once the soil has given
// off its warmth, and warmer in the sun.
func TestBareSurfaceByNightAndDay(t *testing.T) {
	site := Site{Latitude: 45, Longitude: -90, Soil: Loam}
	g := NewGround(site, time.Date(2025, 4, 20, 0, 0, 0, 0, time.UTC))
	night, day := 0.0, 0.0
	for i := range 72 {
		air := 4.0
		h := hourOf(g.At(), air, 0, 2)
		require.NoError(t, g.Step(&site, Dressing{}, h))
		switch i {
		case 48 + 10: // 4 h local
			night = g.SkinC - air
		case 48 + 18: // noon
			day = g.SkinC - air
		}
	}
	assert.Less(t, night, -1.0)
	assert.Greater(t, night, -8.0)
	assert.Greater(t, day, 5.0)
}

// Straw that is laid begins as warm as what it is laid on, more straw on it leaves
// it as warm as it was and settles anew; a mat that is not there is as warm as the
// soil's surface.
func TestStrawBeginsAsWarmAsWhatItIsLaidOn(t *testing.T) {
	g := Ground{SkinC: -3, SurfaceC: -1, StrawC: [strawNodes]float64{9, 9}, MatC: [matNodes]float64{9, 9}}
	g.lay(&Dressing{MulchCm: 10})
	assert.Equal(t, [strawNodes]float64{-3, -3}, g.StrawC)
	assert.Equal(t, [matNodes]float64{-1, -1}, g.MatC)
	assert.Equal(t, 1.0, g.StrawHours)
	g.SkinC = -8
	g.lay(&Dressing{MulchCm: 10})
	assert.Equal(t, 2.0, g.StrawHours)
	g.lay(&Dressing{MulchCm: 20})
	assert.Equal(t, [strawNodes]float64{-3, -3}, g.StrawC)
	assert.Equal(t, 1.0, g.StrawHours)
	g.lay(&Dressing{MulchCm: 5}) // some is taken off
	assert.Equal(t, 2.0, g.StrawHours)
	assert.Equal(t, 5.0, g.StrawCm)
}
