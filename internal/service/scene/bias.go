package scene

import (
	"maps"
	"math"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// leastNightReadings and its hours: from readings of the air a night's minimum
// is taken only when they cover the hours before dawn.
const leastNightReadings = 4

// biasFrom learns a field's bias from the grower's readings against the air of
// the cell in the same nights. Every round learns from the beginning, so that
// the same readings give the same bias.
func biasFrom(readings []farm.Reading, past []weather.Hour, zone *time.Location, since time.Time) microclimate.FieldBias {
	var bias microclimate.FieldBias
	read := nightMinima(readings, zone, since)
	cell := cellNights(past, zone)
	for _, night := range slices.Sorted(maps.Keys(read)) {
		if c, ok := cell[night]; ok {
			bias.Update(read[night], c.low, 2*c.calm > c.hours)
		}
	}
	return bias
}

// nightMinima are what the thermometer said of each night: a minimum as read,
// else the lowest of enough readings of the air.
func nightMinima(readings []farm.Reading, zone *time.Location, since time.Time) map[farm.Day]unit.Celsius {
	out, air := map[farm.Day]unit.Celsius{}, map[farm.Day][]farm.Reading{}
	for _, r := range readings {
		if r.At.Before(since) {
			continue
		}
		switch r.Quantity {
		case farm.ReadAirMin:
			// A minimum read during the day is that of the night before it.
			out[farm.DayOf(r.At, zone).Add(-1)] = unit.Celsius(r.Value)
		case farm.ReadAir:
			night := farm.NightOf(r.At, zone)
			air[night] = append(air[night], r)
		}
	}
	for night, rs := range air {
		if _, ok := out[night]; !ok && coversDawn(rs, zone) {
			low := slices.MinFunc(rs, func(a, b farm.Reading) int { return int(math.Copysign(1, a.Value-b.Value)) })
			out[night] = unit.Celsius(low.Value)
		}
	}
	return out
}

func coversDawn(rs []farm.Reading, zone *time.Location) bool {
	dawn := 0
	for _, r := range rs {
		if h := r.At.In(zone).Hour(); h >= 2 && h < 8 {
			dawn++
		}
	}
	return dawn >= leastNightReadings
}

type cellNight struct {
	low         unit.Celsius
	hours, calm int
}

func cellNights(past []weather.Hour, zone *time.Location) map[farm.Day]cellNight {
	out := map[farm.Day]cellNight{}
	for _, h := range past {
		air, ok := h.Air.Get()
		if !ok {
			continue
		}
		night := farm.NightOf(h.At, zone)
		n, seen := out[night]
		if !seen || air < n.low {
			n.low = air
		}
		n.hours++
		if microclimate.ClearCalm(h) {
			n.calm++
		}
		out[night] = n
	}
	return out
}
