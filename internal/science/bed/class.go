// Package bed follows what a standing bed goes through, hour by hour: the air
// at the bed, the ground under it, the temperature of its organs, how hard it
// has become and what it has lost. Beds that share place, soil and what lies
// over them share one Class, and are computed once.
package bed

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Class is everything that makes the ground and air of a bed, and nothing else.
type Class struct {
	Site    microclimate.Site      `json:"site"`
	Bias    microclimate.FieldBias `json:"bias"` // learned from readings; zero: nothing learned
	LowSpot unit.Kelvins           `json:"low_spot_k"`
	Spans   []Span                 `json:"spans"` // by From ascending; the first counts from before
	Foliage Foliage                `json:"foliage,omitzero"`
	Snow    []SnowReading          `json:"snow,omitempty"`

	CoverDraw float64 `json:"cover_draw,omitzero"` // standard normal draw of the cover's gain; 0: typical
}

// Span is what lies over the bed from an instant on.
type Span struct {
	From    int64              `json:"from"` // Unix seconds
	Cover   microclimate.Cover `json:"cover"`
	MulchCm float64            `json:"mulch_cm"`
}

// SnowReading is a depth that the grower measured: it overrides the model.
type SnowReading struct {
	At int64   `json:"at"` // Unix seconds, a full hour
	Cm float64 `json:"cm"`
}

// biasStep is how finely a learned bias tells classes apart, K: far below what
// a thermometer resolves, so that fields may share.
const biasStep = 0.1

// SiteOf is a place in the terms of the ground.
func SiteOf(p farm.Place) microclimate.Site {
	return microclimate.Site{Latitude: p.Latitude, Longitude: p.Longitude, ElevationM: p.ElevationM, Soil: microclimate.Soil(p.Soil)}
}

// ClassOf is the class of a bed; its days are counted in the place's zone.
func ClassOf(p farm.Place, b farm.Bed, bias microclimate.FieldBias, snow []SnowReading) Class {
	bias.Calm.MeanK = math.Round(bias.Calm.MeanK/biasStep) * biasStep
	bias.Other.MeanK = math.Round(bias.Other.MeanK/biasStep) * biasStep
	bias.Calm.Weight, bias.Other.Weight = math.Round(bias.Calm.Weight*10)/10, math.Round(bias.Other.Weight*10)/10
	bias.Calm.Nights, bias.Other.Nights = 0, 0
	return Class{Site: SiteOf(p), Bias: bias, LowSpot: p.LowSpot, Spans: spans(b, p.Zone), Snow: snow}
}

// spans turns dated covers and mulch into what lies over the bed from when on.
func spans(b farm.Bed, zone *time.Location) []Span {
	days := []farm.Day{""}
	for _, c := range b.Covers {
		days = append(days, c.On)
		if c.Off != "" {
			days = append(days, c.Off)
		}
	}
	for _, m := range b.Mulches {
		days = append(days, m.On)
	}
	slices.Sort(days)
	var out []Span
	for _, d := range slices.Compact(days) {
		s := Span{Cover: microclimate.Cover(b.CoverOn(d)), MulchCm: b.MulchOn(d)}
		if d != "" {
			s.From = d.Start(zone).Unix()
		}
		if n := len(out); n > 0 && out[n-1].Cover == s.Cover && out[n-1].MulchCm == s.MulchCm {
			continue
		}
		out = append(out, s)
	}
	return out
}

// Key names the class: equal keys, equal ground.
func (c Class) Key() string {
	b, err := json.Marshal(c)
	if err != nil { // only NaN can do that, and constructors refuse it
		return fmt.Sprintf("%#v", c)
	}
	return string(b)
}

// Over is what lies on the bed at an instant. The snow readings do not count here.
func (c *Class) Over(at time.Time) Span {
	i := len(c.Spans) - 1
	for i > 0 && c.Spans[i].From > at.Unix() {
		i--
	}
	return c.Spans[i]
}

// Dressing is the same in the terms of the ground.
func (c *Class) Dressing(at time.Time) microclimate.Dressing {
	over := c.Over(at)
	return c.Foliage.Over(microclimate.Dressing{Cover: over.Cover, Draw: c.CoverDraw, MulchCm: over.MulchCm})
}

// Under gives the class with another cover or mulch from an instant on; an
// empty cover or negative mulch leaves that as it is, with what is planned.
func (c Class) Under(from time.Time, cover string, mulchCm float64) Class {
	last := c.Over(from)
	last.From = from.Unix()
	changed := make([]Span, 0, len(c.Spans)+1)
	for i, s := range c.Spans {
		if i == 0 || s.From < last.From {
			changed = append(changed, s)
		}
	}
	changed = append(changed, last.under(cover, mulchCm))
	for i, s := range c.Spans {
		if i > 0 && s.From > last.From {
			changed = append(changed, s.under(cover, mulchCm))
		}
	}
	c.Spans = changed
	return c
}

func (s Span) under(cover string, mulchCm float64) Span {
	if cover != "" {
		s.Cover = microclimate.Cover(cover)
	}
	if mulchCm >= 0 {
		s.MulchCm = mulchCm
	}
	return s
}

// At brings an hour of screen weather to the bed: air and dew point moved by
// the field's bias, and a grower's snow reading put in. The bias is that of the
// night minimum, where cold air gathers, so by day there is none: days made
// colder than they are would harden a crop that is not hard.
func (c *Class) At(h weather.Hour) weather.Hour {
	if c.cold(h.At) {
		h = Shift(h, c.Bias.BiasFor(microclimate.ClearCalm(h), c.LowSpot))
	}
	for _, s := range c.Snow {
		if s.At == h.At.Unix() {
			h.SnowDepth = unit.Some(s.Cm)
		}
	}
	return h
}

// mixes is how long after sunrise the cold air of the night has gone; own default.
const mixes = 2 * time.Hour

// cold: the sun is down, or has not been up for long.
func (c *Class) cold(at time.Time) bool {
	up := func(t time.Time) bool { return microclimate.SunUp(t, c.Site.Latitude, c.Site.Longitude) }
	return !up(at) || !up(at.Add(-mixes))
}

// Shift moves the air by a difference, and the dew point with it where that
// would rise above the air.
func Shift(h weather.Hour, k unit.Kelvins) weather.Hour {
	air, ok := h.Air.Get()
	if !ok {
		return h
	}
	h.Air = unit.Some(air.Plus(k))
	if dew, ok := h.DewPoint.Get(); ok && dew > air.Plus(k) {
		h.DewPoint = h.Air
	}
	return h
}
