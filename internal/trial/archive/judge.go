package archive

import (
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/skill"
	"winterstand/internal/science/verdict"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// leastHours of coming air: to the next morning, for an archive that looks no
// further ahead; own default.
const leastHours = 12

// judge says of every bed that still stands what the service would have said.
func (w *winter) judge(is issue) error {
	if w.opt.Played != nil {
		defer w.opt.Played()
	}
	hours, err := w.coming(w.taught.corrected(is, w))
	if err != nil {
		return err
	}
	if len(hours) < leastHours {
		w.short++
		return nil
	}
	members := w.opt.Members(hours, is.at, verdict.SeedFor(w.station, is.at))
	w.taught.scale(members, hours, is.at)
	for _, g := range w.grounds {
		if err := w.judgeGround(g, is, hours, members); err != nil {
			return err
		}
	}
	return nil
}

// standing are the beds of a ground that are not yet lost.
func (g *ground) standing() []*plot {
	var out []*plot
	for _, b := range g.beds {
		if b.state().Lost == 0 {
			out = append(out, b)
		}
	}
	return out
}

func (w *winter) judgeGround(g *ground, is issue, hours []weather.Hour, members []bed.Member) error {
	beds := g.standing()
	if len(beds) == 0 || safe(hours, members, beds) {
		for _, b := range beds {
			w.say(b, is, nil)
		}
		return nil
	}
	plants, spread := make([]bed.Plant, len(beds)), make([]unit.Kelvins, len(beds))
	for i, b := range beds {
		plants[i] = b.plant
		if w.opt.Spread {
			spread[i] = b.plant.Crop.Spread
		}
	}
	courses, err := bed.Try(&g.book, &g.class, plants, spread, hours, members)
	if err != nil {
		return err
	}
	for i, b := range beds {
		v := verdict.Judge(w.question(b, is, hours, courses[i]))
		w.say(b, is, v.Nights)
	}
	return nil
}

// safeAir: where every member keeps the air above this, no leaf comes near
// freezing, and nothing but a chilled crop can be harmed.
const safeAir unit.Celsius = 8

// safe spares the trial of weather in which nothing can happen.
func safe(hours []weather.Hour, members []bed.Member, beds []*plot) bool {
	for _, b := range beds {
		if b.plant.Crop.Chill.Known() {
			return false
		}
	}
	for i, h := range hours {
		air, ok := h.Air.Get()
		for m := range members {
			if !ok || air.Plus(members[m].Error[i]) < safeAir {
				return false
			}
		}
	}
	return true
}

// say keeps a row for every coming night that the issue has a low for; without
// nights nothing can happen in any of them. The simple rules get the lowest low
// up to and including the night, since the likelihood counts up to it too.
func (w *winter) say(b *plot, is issue, nights []farm.NightRisk) {
	likely := map[farm.Day]float64{}
	for _, n := range nights {
		likely[n.Night] = n.Likelihood
	}
	today := farm.DayOf(is.at, w.opt.Zone)
	lowest := unit.None[unit.Celsius]()
	for lead := 1; ; lead++ {
		low, ok := is.lows[today.Add(lead)]
		if !ok {
			return
		}
		lowest = unit.Some(min(low, lowest.Else(low)))
		night := today.Add(lead - 1)
		p, judged := likely[night]
		if !judged && nights != nil {
			continue
		}
		w.said = append(w.said, said{bed: b, at: is.at, row: skill.Judged{
			Bed: fmt.Sprintf("%s %s %s", w.station, w.start[:4], b.plant.Crop.Name), Crop: b.plant.Crop.Name,
			Night: night, LeadDays: lead, Likelihood: p, Acted: p >= b.purpose().CostLoss(),
			AirLowForecast: lowest, ListThreshold: b.plant.Crop.ListThreshold(),
		}})
	}
}

// coming are the hours that an issue stands for: its lows, with maxima by the
// usual range of the season, from its own hour to the afternoon after its last
// low. What had been observed at the issue is known.
func (w *winter) coming(is issue) ([]weather.Hour, error) {
	today := farm.DayOf(is.at, w.opt.Zone)
	known := w.days[today]
	known.Date = today
	if low, ok := is.lows[today]; ok && is.at.In(w.opt.Zone).Hour() < morningHour {
		known.Min = unit.Some(low)
	}
	if is.at.In(w.opt.Zone).Hour() < eveningHour {
		known.Max = w.maximum(today, known.Min)
	}
	days := []weatherfile.Day{known}
	if d, ok := w.days[today.Add(-1)]; ok {
		days = []weatherfile.Day{d, known}
	}
	for lead := 1; ; lead++ {
		day := today.Add(lead)
		low, ok := is.lows[day]
		if !ok {
			break
		}
		days = append(days, weatherfile.Day{Date: day, Min: unit.Some(low), Max: w.maximum(day, unit.Some(low))})
	}
	hours, err := weatherfile.FromDaily(days, w.opt.Site.Latitude, w.opt.Site.Longitude, w.opt.Zone)
	if err != nil {
		return nil, err
	}
	for len(hours) > 0 && hours[0].At.Before(is.at) {
		hours = hours[1:]
	}
	for i := range hours {
		hours[i].SnowDepth, hours[i].Precip = unit.None[float64](), unit.None[float64]()
		if !hours[i].Air.Known() || hours[i].At.Sub(is.at) != time.Duration(i)*time.Hour {
			return hours[:i], nil
		}
	}
	return hours, nil
}

// The minimum of a day has been seen from 9 h on, the maximum from 17 h on.
const (
	morningHour = 9
	eveningHour = 17
)

func (w *winter) maximum(day farm.Day, low unit.Maybe[unit.Celsius]) unit.Maybe[unit.Celsius] {
	k, okRange := w.usual.On(day)
	c, ok := low.Get()
	if !ok || !okRange {
		return unit.None[unit.Celsius]()
	}
	return unit.Some(c.Plus(k))
}
