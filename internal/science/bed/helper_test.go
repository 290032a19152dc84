package bed_test

import (
	"math"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var (
	north = microclimate.Site{Latitude: 46, Longitude: -92, ElevationM: 300, Soil: microclimate.Loam}
	// September is the first hour of the courses played here.
	september = time.Date(2025, 9, 1, 0, 0, 0, 0, time.UTC)
	noon      = time.Date(2025, 11, 14, 18, 0, 0, 0, time.UTC) // local noon in the middle of the continent
)

// ftest is what testing.T, testing.B and rapid.T have in common.
type ftest = require.TestingT

func cropOf(t ftest, name string) crop.Crop {
	cat, err := crop.Default()
	require.NoError(t, err)
	c, err := cat.Find(name)
	require.NoError(t, err)
	return c
}

func plantsOf(t ftest, names ...string) []bed.Plant {
	var out []bed.Plant
	for _, n := range names {
		out = append(out, bed.Plant{Crop: cropOf(t, n)})
	}
	return out
}

// open is a class of open ground under leaves.
func open(c crop.Crop) bed.Class {
	class := bed.ClassOf(placed(farm.Field{}, time.UTC), farm.Bed{}, microclimate.FieldBias{}, nil)
	return class.Growing(c)
}

// hour in which everything is known.
func hour(at time.Time, air float64) weather.Hour {
	return weather.Hour{
		At: at, Air: unit.Some(unit.Celsius(air)), DewPoint: unit.Some(unit.Celsius(air - 2)),
		Wind: unit.Some(2.0), Cloud: unit.Some(0.3), Precip: unit.Some(0.0),
	}
}

// autumn is n hours from September on that cool from 17 °C by a kelvin in five
// days, with fronts, rain, snow and clear nights.
func autumn(n int) []weather.Hour {
	out := make([]weather.Hour, n)
	for i := range out {
		day := float64(i) / 24
		front := math.Sin(2*math.Pi*day/6.3) + 0.6*math.Sin(2*math.Pi*day/2.7)
		air := 17 - day/5 + 4*front - 5*math.Cos(2*math.Pi*(day-0.62))
		h := hour(september.Add(time.Duration(i)*time.Hour), air)
		h.Cloud = unit.Some(min(1, max(0, 0.5+0.5*front)))
		h.Wind = unit.Some(2 + 1.5*math.Sin(day))
		if front > 1.1 {
			h.Precip = unit.Some(0.5)
		}
		out[i] = h
	}
	return out
}

// night is a day of 24 hours from local noon on that falls from warm to cold
// near sunrise and rises again.
func night(start time.Time, warm, cold float64) []weather.Hour {
	out := make([]weather.Hour, 24)
	for i := range out {
		share := math.Sin(math.Pi / 2 * min(1, float64(i)/18))
		if i > 18 {
			share = max(0, 1-float64(i-18)/5)
		}
		out[i] = hour(start.Add(time.Duration(i)*time.Hour), warm+(cold-warm)*share)
		out[i].Cloud, out[i].Wind = unit.Some(0.0), unit.Some(1.0)
	}
	return out
}

// steady is n hours of one temperature.
func steady(start time.Time, n int, air float64) []weather.Hour {
	out := make([]weather.Hour, n)
	for i := range out {
		out[i] = hour(start.Add(time.Duration(i)*time.Hour), air)
	}
	return out
}

// exactly is one member without any error.
func exactly(n int) []bed.Member { return []bed.Member{{Error: make([]unit.Kelvins, n)}} }

func shifted(n int, k unit.Kelvins, cropDraw float64) bed.Member {
	m := bed.Member{Error: make([]unit.Kelvins, n), Crop: cropDraw}
	for i := range m.Error {
		m.Error[i] = k
	}
	return m
}

// try one plant from a fresh or given book.
func try(t ftest, b *bed.Book, c *bed.Class, p bed.Plant, hours []weather.Hour, members []bed.Member) []bed.Course {
	got, err := bed.Try(b, c, []bed.Plant{p}, []unit.Kelvins{p.Crop.Spread}, hours, members)
	require.NoError(t, err)
	return got[0]
}

func hardened(b *bed.Book, p bed.Plant, share float64) {
	s := b.Plants[p.Key()]
	h := p.Crop.Sold
	s.Sold.LT50 = h.Unhardened + unit.Celsius(share)*(h.Full-h.Unhardened)
	if r, ok := p.Crop.Regrow.Get(); ok {
		s.Crown.LT50 = r.Unhardened + unit.Celsius(share)*(r.Full-r.Unhardened)
	}
	b.Plants[p.Key()] = s
}

// placed is a field under the forecast point of north.
func placed(f farm.Field, zone *time.Location) farm.Place {
	return farm.PlaceOf(f, unit.Some(farm.Point{Latitude: north.Latitude, Longitude: north.Longitude,
		Elevation: unit.Some(north.ElevationM), TimeZone: zone.String()}))
}
