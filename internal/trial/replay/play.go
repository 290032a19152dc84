package replay

import (
	"time"

	"winterstand/internal/science/bed"
	"winterstand/internal/weather"
)

// Play takes the bed through contiguous hours and shows the rows of each UTC day
// in turn. members may be nil: then there are no bands.
func (b *Bed) Play(hours []weather.Hour, members []Member, show func(day []Row) error) error {
	w := b.walk(hours[0].At, 0, 0)
	crowd := b.crowd(hours[0], members)
	var before lead
	for len(hours) > 0 {
		n := untilMidnight(hours)
		rows, err := b.day(w, hours[:n], &before)
		if err != nil {
			return err
		}
		if len(crowd) > 0 {
			if err := b.bands(crowd, hours[:n], rows); err != nil {
				return err
			}
		}
		if err := show(rows); err != nil {
			return err
		}
		hours = hours[n:]
	}
	return nil
}

// untilMidnight counts the hours up to the end of the first one's UTC day.
func untilMidnight(hours []weather.Hour) int {
	end := hours[0].At.UTC().Truncate(24 * time.Hour).Add(24 * time.Hour)
	return min(len(hours), int(end.Sub(hours[0].At)/time.Hour))
}

// lead is the end of the day before, which decides whether the first hours of a
// day find the leaves thawed for long enough.
type lead struct {
	hours  []weather.Hour
	course bed.Course
}

const leadHours = 3

// day plays one day and reads its rows.
func (b *Bed) day(w *walk, hours []weather.Hour, before *lead) ([]Row, error) {
	rows := make([]Row, len(hours))
	err := w.through(hours, func(i int, s *bed.State) error {
		row, sold, err := b.read(w, hours[i], s)
		rows[i] = row
		before.add(hours[i], &row, sold)
		return err
	})
	if err != nil {
		return nil, err
	}
	work := bed.Workable(&w.plants[0], &w.class.Site, before.hours, &before.course, b.Limits)
	for i := range rows {
		rows[i].Workable = work[len(work)-len(rows)+i]
	}
	before.keep(leadHours)
	return rows, nil
}

func (l *lead) add(h weather.Hour, r *Row, sold float32) {
	l.hours = append(l.hours, h)
	c := &l.course
	c.Air, c.Sold = append(c.Air, float32(r.Air)), append(c.Sold, sold)
	c.Snow, c.Frost = append(c.Snow, float32(r.SnowCm)), append(c.Frost, float32(r.FrozenCm))
}

// keep drops all but the last n hours.
func (l *lead) keep(n int) {
	k := max(0, len(l.hours)-n)
	l.hours = l.hours[k:]
	c := &l.course
	c.Air, c.Sold, c.Snow, c.Frost = c.Air[k:], c.Sold[k:], c.Snow[k:], c.Frost[k:]
}

// read gives the row of an hour that was just played, and the temperature of
// the sold organ.
func (b *Bed) read(w *walk, h weather.Hour, s *bed.State) (Row, float32, error) {
	on, at := w.class.Dressing(h.At), w.class.At(h)
	tissue, err := w.plants[0].TissueIn(&w.book.Ground, &w.class.Site, on, at)
	if err != nil {
		return Row{}, 0, err
	}
	leaf, err := w.book.Ground.Leaf(&w.class.Site, on, at, b.Crop.HeightCm)
	air, _ := at.Air.Get()
	r := Row{
		At: h.At, Air: air, Leaf: leaf, Tolerance: s.Sold.LT50.Plus(w.plants[0].Offset),
		Kill: s.Sold.EventKill, Survival: s.Sold.Survival, Quality: s.Sold.Quality,
		SnowCm: tissue.Snow, FrozenCm: tissue.Frost,
	}
	for _, cm := range b.Depths {
		r.Soil = append(r.Soil, w.book.Ground.SoilAt(cm))
	}
	return r, float32(tissue.Sold), err
}
