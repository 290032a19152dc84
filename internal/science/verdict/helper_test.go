package verdict_test

import (
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

type ftest = require.TestingT

var north = microclimate.Site{Latitude: 46, Longitude: -92, ElevationM: 300, Soil: microclimate.Loam}

func zoneOf(t ftest, name string) *time.Location {
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func cropOf(t ftest, name string) crop.Crop {
	cat, err := crop.Default()
	require.NoError(t, err)
	c, err := cat.Find(name)
	require.NoError(t, err)
	return c
}

// asked is a question whose courses are written by hand: mild, thawed and whole
// until a case says otherwise.
type asked struct {
	verdict.Question
}

// local is an instant on a day of November 2025 in the middle of the continent.
func local(t ftest, day, hour, minute int) time.Time {
	return time.Date(2025, 11, day, hour, minute, 0, 0, zoneOf(t, "America/Chicago"))
}

func bedAt(t ftest, name string, now time.Time, hours, members int) *asked {
	p := bed.Plant{Crop: cropOf(t, name)}
	b := &asked{verdict.Question{
		Now: now, Zone: zoneOf(t, "America/Chicago"), Plant: &p, Start: p.NewState(north.Latitude, now),
		Purpose: farm.Fresh, CostLoss: 0.2, Site: &north,
		Limits: bed.Limits{WindChill: -20, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm},
	}}
	start := now.UTC().Truncate(time.Hour)
	for h := range hours {
		b.Hours = append(b.Hours, weather.Hour{At: start.Add(time.Duration(h) * time.Hour), Air: unit.Some(unit.Celsius(5)), Wind: unit.Some(1.0)})
	}
	for range members {
		c := bed.Course{Thawed: 3}
		for range hours {
			c.Air, c.Sold, c.Crown = append(c.Air, 5), append(c.Sold, 4), append(c.Crown, 3)
			c.Threshold, c.CrownThreshold = append(c.Threshold, -8), append(c.CrownThreshold, -12)
			c.Loss, c.Life, c.CrownLife = append(c.Loss, 0), append(c.Life, 1), append(c.CrownLife, 1)
			c.Snow, c.Frost, c.Soil5 = append(c.Snow, 0), append(c.Frost, 0), append(c.Soil5, 4)
		}
		b.Courses = append(b.Courses, c)
	}
	return b
}

// index of an instant, within the hours.
func (b *asked) index(at time.Time) int {
	return min(max(0, int(at.Sub(b.Hours[0].At)/time.Hour)), len(b.Hours))
}

// each changes every hour of [from, to) in the first n members.
func (b *asked) each(n int, from, to time.Time, change func(c *bed.Course, h int)) *asked {
	for m := range b.Courses[:n] {
		for h := b.index(from); h < b.index(to); h++ {
			change(&b.Courses[m], h)
		}
	}
	return b
}

var never = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)

// loses takes the whole bed, with its crown, from an instant on in n members.
func (b *asked) loses(n int, at time.Time) *asked {
	return b.each(n, at, never, func(c *bed.Course, h int) { c.Loss[h], c.Life[h], c.CrownLife[h] = 1, 0, 0 })
}

// frozen holds leaves below 0 °C in all members.
func (b *asked) frozen(from, to time.Time) *asked {
	return b.each(len(b.Courses), from, to, func(c *bed.Course, h int) { c.Sold[h] = -2 })
}

// cold is a night's air and tissue around its low, in all members, spread by a kelvin a member.
func (b *asked) cold(from, to time.Time, air float32) *asked {
	for m := range b.Courses {
		b.eachOf(m, from, to, func(c *bed.Course, h int) { c.Air[h], c.Sold[h] = air+float32(m), air-1+float32(m) })
	}
	return b
}

func (b *asked) eachOf(m int, from, to time.Time, change func(c *bed.Course, h int)) {
	for h := b.index(from); h < b.index(to); h++ {
		change(&b.Courses[m], h)
	}
}

func (b *asked) judge() farm.Verdict { return verdict.Judge(b.Question) }

func when(m unit.Maybe[time.Time]) time.Time {
	t, _ := m.Get()
	return t
}

// placed is a field under the forecast point of north.
func placed(f farm.Field, zone *time.Location) farm.Place {
	return farm.PlaceOf(f, unit.Some(farm.Point{Latitude: north.Latitude, Longitude: north.Longitude,
		Elevation: unit.Some(north.ElevationM), TimeZone: zone.String()}))
}
