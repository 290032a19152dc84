package archive

import (
	"fmt"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/skill"
	"winterstand/internal/science/verdict"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// winter is one season of one station.
type winter struct {
	opt     Options
	station string
	start   farm.Day
	usual   *weatherfile.Range
	days    map[farm.Day]weatherfile.Day // observed
	hours   []weather.Hour               // made of them, contiguous
	blind   time.Time                    // from here on the observed weather has a hole; zero: never
	issues  []issue
	taught  lessons // what the station's earlier nights say of its forecasts
	short   int
	grounds []*ground
	beds    []*plot
	said    []said
}

// plot is one crop of the season, over ground it may share.
type plot struct {
	ground *ground
	plant  bed.Plant
	loss   map[farm.Day]float64 // at the noon after each night
	lost   time.Time            // first hour of loss; zero: never
}

// ground is the beds that share a class.
type ground struct {
	class bed.Class
	beds  []*plot
	book  bed.Book
}

// said is one judgement before its outcome is known.
type said struct {
	bed *plot
	row skill.Judged
	at  time.Time
}

// seasonDays is how long a season is followed: to the end of the next July.
const seasonDays = 364

// prepare makes the hours of the season and its beds.
func (w *winter) prepare(all []weatherfile.Day) error {
	from, to := w.start.Add(-1), w.start.Add(seasonDays)
	var own []weatherfile.Day
	for _, d := range all {
		if d.Date >= from && d.Date <= to {
			own = append(own, d)
			w.days[d.Date] = d
		}
	}
	hours, err := weatherfile.FromDaily(own, w.opt.Site.Latitude, w.opt.Site.Longitude, w.opt.Zone)
	if err != nil {
		return err
	}
	w.keep(hours)
	w.plant()
	return nil
}

// keep takes the hours with air, bridged, and notes the first hole.
func (w *winter) keep(hours []weather.Hour) {
	known := func(h weather.Hour) bool { return h.Air.Known() }
	first := slices.IndexFunc(hours, known)
	if first < 0 {
		return
	}
	hours = hours[first:]
	for len(hours) > 0 && !known(hours[len(hours)-1]) {
		hours = hours[:len(hours)-1]
	}
	if i := slices.IndexFunc(hours, func(h weather.Hour) bool { return !known(h) }); i >= 0 {
		w.blind = hours[i].At
	}
	w.hours, _ = bed.Contiguous(hours, hours[0].At, hours[len(hours)-1].At.Add(time.Hour))
}

// plant puts a bed of each crop on the ground it shares.
func (w *winter) plant() {
	if len(w.hours) == 0 {
		return
	}
	plain := bed.Class{Site: w.opt.Site, Spans: []bed.Span{{}}}
	grounds := map[string]*ground{}
	for _, c := range w.opt.Crops {
		class := plain.Growing(c)
		g, ok := grounds[class.Key()]
		if !ok {
			g = &ground{class: class}
			grounds[class.Key()] = g
			w.grounds = append(w.grounds, g)
		}
		b := &plot{ground: g, plant: bed.Plant{Crop: c}, loss: map[farm.Day]float64{}}
		g.beds, w.beds = append(g.beds, b), append(w.beds, b)
	}
	for _, g := range w.grounds {
		g.book = bed.NewBook(&g.class, g.plants(), w.hours[0].At)
	}
}

func (g *ground) plants() []bed.Plant {
	out := make([]bed.Plant, len(g.beds))
	for i, b := range g.beds {
		out[i] = b.plant
	}
	return out
}

func (b *plot) state() bed.State { return b.ground.book.Plants[b.plant.Key()] }

// play steps the season from noon to noon and judges at each issue on the way.
func (w *winter) play() error {
	if len(w.hours) == 0 {
		w.short = len(w.issues)
		return nil
	}
	next := 0
	at, end := w.hours[0].At, w.hours[len(w.hours)-1].At.Add(time.Hour)
	for next < len(w.issues) && w.issues[next].at.Before(at) {
		w.short, next = w.short+1, next+1
	}
	for at.Before(end) {
		noon := farm.NightOf(at, w.opt.Zone).Add(1).Noon(w.opt.Zone).UTC().Truncate(time.Hour)
		to := noon
		if next < len(w.issues) && w.issues[next].at.Before(to) {
			to = w.issues[next].at
		}
		to = minTime(to, end)
		if err := w.advance(at, to); err != nil {
			return err
		}
		if to.Equal(noon) {
			w.note(noon)
		}
		at = to
		for next < len(w.issues) && w.issues[next].at.Equal(at) {
			if err := w.judge(w.issues[next]); err != nil {
				return fmt.Errorf("station %s, issue of %s: %w", w.station, at.Format(time.RFC3339), err)
			}
			next++
		}
	}
	w.short += len(w.issues) - next
	return nil
}

func minTime(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// advance takes every ground through the hours that came.
func (w *winter) advance(from, to time.Time) error {
	i, j := int(from.Sub(w.hours[0].At)/time.Hour), int(to.Sub(w.hours[0].At)/time.Hour)
	for _, g := range w.grounds {
		if err := g.book.Advance(&g.class, g.plants(), w.hours[i:j]); err != nil {
			return fmt.Errorf("station %s: %w", w.station, err)
		}
	}
	return nil
}

// note keeps what was lost at the noon after a night.
func (w *winter) note(noon time.Time) {
	night := farm.NightOf(noon.Add(-time.Hour), w.opt.Zone)
	for _, b := range w.beds {
		s := b.state()
		b.loss[night] = min(1, max(0, s.Loss()))
		if s.Lost != 0 && b.lost.IsZero() {
			b.lost = time.Unix(s.Lost, 0).UTC()
		}
	}
}

// rows are the judgements with what came of them. Nights that the observations
// do not reach, or that lie behind a hole, stay without an outcome.
func (w *winter) rows() []skill.Judged {
	out := make([]skill.Judged, 0, len(w.said))
	for _, s := range w.said {
		row := s.row
		if loss, ok := s.bed.loss[row.Night]; ok && !w.blindBy(row.Night) {
			row.Lost = unit.Some(loss)
		}
		if row.Acted && !s.bed.lost.IsZero() {
			row.Lead = max(0, s.bed.lost.Sub(s.at))
		}
		out = append(out, row)
	}
	return out
}

func (w *winter) blindBy(night farm.Day) bool {
	return !w.blind.IsZero() && w.blind.Before(night.Add(1).Noon(w.opt.Zone))
}

// costLoss is that of the crop's usual purpose: roots for the store, the rest fresh.
func (b *plot) purpose() farm.Purpose {
	if b.plant.Crop.Organ.AboveGround() {
		return farm.Fresh
	}
	return farm.Storing
}

// limits of work, those of a farm that has set none.
func limits() bed.Limits {
	return bed.Limits{WindChill: farm.DefaultWindChillLimit, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm}
}

// question is what the service would have asked of a bed.
func (w *winter) question(b *plot, is issue, hours []weather.Hour, courses []bed.Course) verdict.Question {
	return verdict.Question{
		Now: is.at, Zone: w.opt.Zone, Plant: &b.plant, Start: b.state(), Purpose: b.purpose(), CostLoss: b.purpose().CostLoss(),
		Site: &b.ground.class.Site, Hours: hours, Courses: courses, Limits: limits(),
	}
}
