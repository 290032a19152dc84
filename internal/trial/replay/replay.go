// Package replay plays one bed over a stretch of weather with the stepping code
// of the service, and gives what happened hour by hour or day by day. Values in,
// values out.
package replay

import (
	"errors"
	"fmt"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/hardiness"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Bed is what is played: one crop in one class of ground.
type Bed struct {
	Class  bed.Class
	Crop   crop.Crop
	Start  unit.Maybe[unit.Celsius] // LT50 of the sold organ at the first hour; missing: that of place and day
	Depths []float64                // cm at which the soil is read
	Limits bed.Limits
}

// Row is one hour of a bed, as it is at the end of that hour, or one day of it.
type Row struct {
	At        time.Time
	Air       unit.Celsius // at the bed
	Leaf      unit.Celsius
	Tolerance unit.Celsius // LT50 of the organ that is sold
	Kill      float64      // share injured in the running frost, 0..1
	Survival  float64      // of the sold organ, 0..1
	Quality   float64      // share fit to sell, 0..1
	SnowCm    float64
	FrozenCm  float64        // frozen crust
	Soil      []unit.Celsius // by Bed.Depths
	Workable  bool
	Bands     *Bands // with members only
}

// Plain gives the class of a bed of a crop with one cover and mulch throughout.
func Plain(site microclimate.Site, c crop.Crop, cover microclimate.Cover, mulchCm float64) bed.Class {
	return bed.Class{Site: site, Spans: []bed.Span{{Cover: cover, MulchCm: mulchCm}}}.Growing(c)
}

// Check refuses what cannot be played.
func (b *Bed) Check() error {
	over := b.Class.Over(time.Time{})
	if err := (&microclimate.Dressing{Cover: over.Cover, MulchCm: over.MulchCm}).Check(); err != nil {
		return err
	}
	if l, ok := b.Start.Get(); ok && !(l <= b.Crop.Sold.Unhardened && l >= b.Crop.Sold.Full) {
		return fmt.Errorf("start tolerance %g °C: %s stands between %g °C unhardened and %g °C fully hardened (tissue, half of it dies)",
			float64(l), b.Crop.Title("en"), float64(b.Crop.Sold.Unhardened), float64(b.Crop.Sold.Full))
	}
	for _, cm := range b.Depths {
		if !(cm >= 0 && cm <= 100*microclimate.ColumnM) {
			return fmt.Errorf("depth %g cm: must be between 0 and %g cm", cm, 100*microclimate.ColumnM)
		}
	}
	return b.Class.Site.Check()
}

// Hours prepares the hours of a file: contiguous, air bridged as the service
// does it, ends without air cut off. The report says what was done.
func Hours(hours []weather.Hour) ([]weather.Hour, Gaps, error) {
	var g Gaps
	first, last := -1, -1
	for i, h := range hours {
		if h.Air.Known() {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return nil, g, errors.New("no hour has an air temperature")
	}
	g.CutBefore, g.CutAfter = span(hours[0].At, hours[first].At), span(hours[last].At, hours[len(hours)-1].At)
	kept := hours[first : last+1]
	out, long := bed.Contiguous(kept, kept[0].At, kept[len(kept)-1].At.Add(time.Hour))
	known := 0
	for _, h := range kept {
		if h.Air.Known() {
			known++
		}
	}
	g.From, g.To = out[0].At, out[len(out)-1].At.Add(time.Hour)
	g.Bridged, g.Long = len(out)-known, long
	return out, g, nil
}

func span(a, b time.Time) int { return int(b.Sub(a) / time.Hour) }

// Gaps is what was missing in a series.
type Gaps struct {
	From, To            time.Time // what can be played
	CutBefore, CutAfter int       // hours without air before the first and after the last known one
	Bridged             int       // hours between whose air had to be bridged
	Long                int       // of them in gaps of more than three hours
}

// walk is one course of the bed through the weather.
type walk struct {
	class  bed.Class
	plants []bed.Plant // one
	book   bed.Book
}

func (b *Bed) walk(at time.Time, offset unit.Kelvins, coverDraw float64) *walk {
	w := &walk{class: b.Class, plants: []bed.Plant{{Crop: b.Crop, Offset: offset}}}
	w.class.CoverDraw = coverDraw
	w.book = bed.NewBook(&w.class, w.plants, at)
	if l, ok := b.Start.Get(); ok {
		key := w.plants[0].Key()
		s := w.book.Plants[key]
		s.Sold = hardiness.Start(b.Crop.Sold, l)
		w.book.Plants[key] = s
	}
	return w
}

// through takes the bed through hours and shows the state after each; it stops
// at the first error.
func (w *walk) through(hours []weather.Hour, see func(i int, s *bed.State) error) error {
	key := w.plants[0].Key()
	for i := range hours {
		if err := w.book.Advance(&w.class, w.plants, hours[i:i+1]); err != nil {
			return err
		}
		s := w.book.Plants[key]
		if err := see(i, &s); err != nil {
			return err
		}
	}
	return nil
}
