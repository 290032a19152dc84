package picture

import (
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Table is the picture in words and numbers, one row a night, every number with
// its unit.
type Table struct {
	Caption string     `json:"caption"`
	Head    []string   `json:"head"`
	Rows    [][]string `json:"rows"`
}

// Table gives the nights that are drawn.
func (b Bed) Table() Table {
	b = b.tidy()
	p := b.Phrases
	t := Table{
		Caption: b.Title,
		Head:    []string{p.Night, p.AirLow, p.TissueLow + ", " + p.Tissue, p.Stands, p.WorkHours, p.Snow},
	}
	if b.Headline != "" {
		t.Caption += ": " + b.Headline
	}
	snow := b.snowByDay()
	for _, n := range b.nights() {
		depth := p.Unknown
		if cm, ok := snow[n.day]; ok {
			depth = b.Units.Depth(cm)
		}
		t.Rows = append(t.Rows, []string{
			b.date(n.day.Start(b.Zone)), b.temperature(n.airLow), b.temperature(n.tissueLow), b.temperature(n.stands),
			b.work(n.day), depth,
		})
	}
	return t
}

func (b Bed) temperature(c unit.Maybe[unit.Celsius]) string {
	if v, ok := c.Get(); ok {
		return b.Units.Temperature(v)
	}
	return b.Phrases.Unknown
}

// work names the windows of one local day.
func (b Bed) work(d farm.Day) string {
	from, to := d.Start(b.Zone), d.Add(1).Start(b.Zone)
	var spans []string
	for _, w := range b.windows() {
		if w.from.Before(to) && w.to.After(from) {
			spans = append(spans, b.clock(later(w.from, from))+"–"+b.clock(earlier(w.to, to)))
		}
	}
	if spans == nil {
		return b.Phrases.None
	}
	return strings.Join(spans, ", ")
}

// snowByDay is the greatest known depth of each local day, cm.
func (b Bed) snowByDay() map[farm.Day]float64 {
	most := map[farm.Day]float64{}
	for _, h := range b.Hours {
		if cm, ok := h.SnowCm.Get(); ok {
			d := farm.DayOf(h.At, b.Zone)
			most[d] = max(most[d], cm)
		}
	}
	return most
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// description is what stands in <desc>: the verdict, the deadline, the lowest night.
func (b Bed) description() string {
	var parts []string
	if b.Headline != "" {
		parts = append(parts, strings.TrimSuffix(b.Headline, "."))
	}
	if d, ok := b.Deadline.Get(); ok {
		parts = append(parts, b.Phrases.Before+" "+b.moment(d))
	}
	if n, ok := b.coldest(); ok {
		parts = append(parts, b.Phrases.Lowest+" "+b.temperature(n.airLow)+", "+b.date(n.day.Start(b.Zone))+
			"; "+b.Phrases.Stands+" "+b.temperature(n.stands))
	} else {
		parts = append(parts, b.Phrases.NoData)
	}
	return strings.Join(parts, ". ") + "."
}

func (b Bed) coldest() (night, bool) {
	var coldest night
	for _, n := range b.nights() {
		if t, ok := n.airLow.Get(); ok && t < coldest.airLow.Else(t+1) {
			coldest = n
		}
	}
	return coldest, coldest.airLow.Known()
}
