package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// dueGroup is beds that share a deadline.
type dueGroup struct {
	Left     Left
	Deadline string
	Load     string // how much there is to harvest, and how long that takes
	Worked   string
	Spans    []string
	Strip    template.HTML
	Nights   []dueNight
	by       time.Time
	zone     *time.Location
	beds     []judged
}

// dueNight is those beds of a deadline that the same night ends.
type dueNight struct {
	Night string
	Beds  []dueBed
}

func (d *duePage) addDue(v *visit, j judged, by time.Time) {
	d.How = v.say("due.how", "share", percentOf(j.verdict.LossShare))
	for i := range d.Groups {
		if d.Groups[i].by.Equal(by) {
			d.Groups[i].beds = append(d.Groups[i].beds, j)
			return
		}
	}
	d.Groups = append(d.Groups, dueGroup{by: by, zone: j.zone, beds: []judged{j}, Left: v.left(by.Sub(v.now)), Deadline: v.at(j.zone).When(by)})
}

// named are the beds of a group as far as a heading needs them.
func (g *dueGroup) named() []dueBed {
	out := make([]dueBed, len(g.beds))
	for i, j := range g.beds {
		out[i].Name = j.bed.Name
	}
	return out
}

// mostSpans are told in words beside a deadline; the strip shows all.
const mostSpans = 3

// sum lays a group out: the hours in which any of its beds can be worked, the
// work there is, and the beds by the night that ends them.
func (g *dueGroup) sum(v *visit) {
	s := v.at(g.zone)
	var all []farm.Window
	var work load
	hours := map[int64]time.Duration{} // by bed
	for _, j := range g.beds {
		own := before(j.verdict.Windows, v.now, g.by)
		all = append(all, own...)
		work.take(j.bed)
		hours[j.bed.ID] = sumOf(own)
	}
	all = joined(all)
	g.Strip, g.Load = hoursRule(v.now, g.by, g.zone, all), work.say(v)
	g.Spans = v.spans(s, all)
	if len(g.Spans) > mostSpans {
		g.Spans = append(g.Spans[:mostSpans-1:mostSpans-1], "…", g.Spans[len(g.Spans)-1])
	}
	least, most := extremes(hours)
	g.Worked = v.worked(least, most)
	g.Nights = v.nights(g.beds)
	if v.worked(least, least) == v.worked(most, most) {
		return
	}
	for _, n := range g.Nights {
		for i, b := range n.Beds {
			n.Beds[i].Hours = v.say("due.bed_hours", "hours", s.Ago(hours[b.ID]))
		}
	}
}

// worked says how much of the time that is left can be worked.
func (v *visit) worked(least, most time.Duration) string {
	lo, hi := math.Round(least.Hours()), math.Round(most.Hours())
	switch {
	case most == 0:
		return v.say("due.no_work")
	case lo == hi:
		return v.say("due.worked", "hours", v.speaker.Ago(most))
	}
	return v.say("due.worked_range", "least", fmt.Sprint(lo), "most", fmt.Sprint(hi))
}

func extremes(hours map[int64]time.Duration) (least, most time.Duration) {
	first := true
	for _, h := range hours {
		if first || h < least {
			least = h
		}
		if first || h > most {
			most = h
		}
		first = false
	}
	return least, most
}

// joined merges windows that overlap or touch.
func joined(windows []farm.Window) []farm.Window {
	slices.SortFunc(windows, func(a, b farm.Window) int { return a.Start.Compare(b.Start) })
	var out []farm.Window
	for _, w := range windows {
		if n := len(out); n > 0 && !w.Start.After(out[n-1].End) {
			if w.End.After(out[n-1].End) {
				out[n-1].End = w.End
			}
			continue
		}
		out = append(out, w)
	}
	return out
}

// nights parts beds by the night that ends them, the likeliest loss first.
func (v *visit) nights(beds []judged) []dueNight {
	byNight := map[farm.Day][]judged{}
	var order []farm.Day
	for _, j := range beds {
		if _, ok := byNight[j.verdict.Night]; !ok {
			order = append(order, j.verdict.Night)
		}
		byNight[j.verdict.Night] = append(byNight[j.verdict.Night], j)
	}
	slices.Sort(order)
	var out []dueNight
	for _, night := range order {
		n := dueNight{Night: v.nightOf(night, byNight[night])}
		for _, j := range byNight[night] {
			n.Beds = append(n.Beds, v.dueBed(j))
		}
		slices.SortStableFunc(n.Beds, func(a, b dueBed) int { return cmp.Compare(b.chance, a.chance) })
		out = append(out, n)
	}
	return out
}

// nightOf names a night with the lowest air at any of the beds.
func (v *visit) nightOf(night farm.Day, beds []judged) string {
	if night == "" {
		return ""
	}
	var low unit.Maybe[unit.Celsius]
	for _, j := range beds {
		if air, ok := j.verdict.AirLow.Get(); ok && air <= low.Else(air) {
			low = unit.Some(air)
		}
	}
	s := v.at(beds[0].zone)
	name := capital(s.Night(night))
	if air, ok := low.Get(); ok {
		return v.say("due.night_air", "night", name, "air", s.Temperature(air))
	}
	return name
}

// load is what beds weigh and how long one person harvests them, as far as that
// is known.
type load struct {
	kg, hours       float64
	unknown, noRate bool // some bed's weight, some bed's pace is not known
}

func (l *load) take(b farm.Bed) {
	kg, ok := b.StandingKg.Get()
	l.unknown = l.unknown || !ok
	rate, known := b.LiftKgPerHour.Get()
	l.noRate = l.noRate || !known && kg > 0
	l.kg += kg
	if known {
		l.hours += kg / rate
	}
}

func (l load) say(v *visit) string {
	if l.kg == 0 {
		return ""
	}
	key := "due.load"
	if l.unknown {
		key = "due.load_least"
	}
	text := v.say(key, "mass", v.speaker.Units.Mass(l.kg))
	if l.hours > 0 {
		key = "due.work"
		if l.noRate || l.unknown {
			key = "due.work_least"
		}
		text += " " + v.say(key, "hours", v.speaker.Ago(time.Duration(l.hours*float64(time.Hour))))
	}
	return text
}
