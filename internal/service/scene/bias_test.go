package scene

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var chicagoZone = func() *time.Location {
	z, err := time.LoadLocation("America/Chicago")
	if err != nil {
		panic(err)
	}
	return z
}()

// nov is a local hour of November 2025.
func nov(day, hour int) time.Time { return time.Date(2025, 11, day, hour, 0, 0, 0, chicagoZone) }

// A minimum read in the morning is that of the night before; from readings of the
// air one is taken where four of them lie between 2 and 8 h. What was read before
// a farm's bias was forgotten does not count.
func TestMinimaOfReadings(t *testing.T) {
	read := func(q string, at time.Time, v float64) farm.Reading {
		return farm.Reading{Quantity: q, At: at, Value: v}
	}
	air := func(day int, hours ...int) (out []farm.Reading) {
		for _, h := range hours {
			out = append(out, read(farm.ReadAir, nov(day, h), -float64(h)))
		}
		return out
	}
	var all []farm.Reading
	all = append(all, read(farm.ReadAirMin, nov(3, 7), -1), read(farm.ReadAirMin, nov(5, 17), -3.5))
	all = append(all, air(5, 3, 4, 5, 6)...)                                 // the night of the 4th has its minimum already
	all = append(all, air(7, 1, 2, 3, 7)...)                                 // three before dawn: 2, 3 and 7
	all = append(all, air(9, 2, 3, 4, 7, 9)...)                              // four, and the lowest of all at 9 h
	all = append(all, air(11, 4, 5, 6, 8)...)                                // 8 h is day
	all = append(all, read(farm.ReadSnowDepth, nov(13, 7), 12))              // no temperature
	all = append(all, read(farm.ReadAirMin, nov(15, 7).Add(-time.Hour), -9)) // read an hour before the other, which is the newer
	all = append(all, read(farm.ReadAirMin, nov(15, 7), -8))
	assert.Equal(t, map[farm.Day]unit.Celsius{"2025-11-04": -3.5, "2025-11-08": -9, "2025-11-14": -8}, nightMinima(all, chicagoZone, nov(4, 0)))
}

// Of the cell's nights the lowest air, and the hours that were clear and calm.
func TestNightsOfTheCell(t *testing.T) {
	hour := func(at time.Time, air unit.Maybe[unit.Celsius], cloud, wind float64) weather.Hour {
		return weather.Hour{At: at, Air: air, Cloud: unit.Some(cloud), Wind: unit.Some(wind)}
	}
	past := []weather.Hour{
		hour(nov(4, 11), unit.Some(unit.Celsius(9)), 1, 9),
		hour(nov(4, 22), unit.Some(unit.Celsius(-2)), 0, 0.5), hour(nov(5, 3), unit.Some(unit.Celsius(-6)), 0, 0.5),
		hour(nov(5, 5), unit.None[unit.Celsius](), 0, 0.5), hour(nov(5, 11), unit.Some(unit.Celsius(4)), 1, 9),
	}
	assert.Equal(t, map[farm.Day]cellNight{"2025-11-03": {low: 9, hours: 1}, "2025-11-04": {low: -6, hours: 3, calm: 2}}, cellNights(past, chicagoZone))
}

// The bias is learned from nights that both know, calm ones apart: a night counts
// as calm where more than half of its hours were.
func TestABiasIsLearnedNightByNight(t *testing.T) {
	var past []weather.Hour
	for i := range 24 * 12 {
		at := nov(1, 12).Add(time.Duration(i) * time.Hour)
		cloud := 1.0
		if i/24%2 == 0 { // every other night is clear
			cloud = 0
		}
		past = append(past, weather.Hour{At: at, Air: unit.Some(unit.Celsius(2)), Cloud: unit.Some(cloud), Wind: unit.Some(0.5)})
	}
	var readings []farm.Reading
	for day := 1; day <= 14; day++ { // the last two have no weather
		low := 2.0
		if day%2 == 1 {
			low = -1
		}
		readings = append(readings, farm.Reading{Quantity: farm.ReadAirMin, At: nov(day+1, 7), Value: low})
	}
	bias := biasFrom(readings, past, chicagoZone, time.Time{})
	assert.EqualValues(t, 6, bias.Calm.Nights)
	assert.EqualValues(t, 6, bias.Other.Nights)
	assert.InDelta(t, -3, bias.Calm.MeanK, 1, "three kelvins below on clear nights")
	assert.InDelta(t, 0, bias.Other.MeanK, 0.1)
	assert.Zero(t, biasFrom(readings, past, chicagoZone, nov(20, 0)))
}

// A season's history begins with its own August, in the south with its February.
func TestASeasonBegins(t *testing.T) {
	for _, c := range []struct {
		now      string
		latitude float64
		want     string
	}{
		{"2025-11-14", 45, "2025-08-01"}, {"2026-07-31", 45, "2025-08-01"}, {"2026-08-01", 45, "2026-08-01"}, {"2026-01-31", 0, "2025-08-01"},
		{"2026-01-31", -45, "2025-02-01"}, {"2026-02-01", -45, "2026-02-01"}, {"2026-11-14", -45, "2026-02-01"},
	} {
		now, err := time.Parse(time.DateOnly, c.now)
		assert.NoError(t, err)
		assert.Equal(t, c.want, seasonStart(now, c.latitude).Format(time.DateOnly), c.now)
	}
}
