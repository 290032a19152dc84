package season

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"winterstand/internal/unit"
)

// Text is the outlook for a terminal of 80 columns; title turns a crop's key
// into what people call it, or is nil.
func (o Outlook) Text(units unit.System, title func(crop string) string) string {
	var b strings.Builder
	w := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	if len(o.Winters) == 0 {
		w("No winter from 1 August to 31 May in the file.")
		return b.String()
	}
	first, last := o.Winters[0].Winter, o.Winters[len(o.Winters)-1].Winter
	w("Winters %s to %s. Had to be out by this day in so many winters:", Name(first), Name(last))
	const line = "%-21s%-18s%8s%8s%8s%10s%7s"
	w(line, "", "", "1", "5", "9", "at air", "weeks")
	w(line, "crop", "over it", "in 10", "in 10", "in 10", "low", "stood")
	for _, r := range o.Rows {
		name := r.Crop
		if title != nil {
			name = title(r.Crop)
		}
		w(line, cut(name, 20), cut(r.over(units), 17), r.day(0), r.day(1), r.day(2), r.low(units), r.weeks())
	}
	w("")
	w("stands: still in the ground and sound on 31 May. At air low: of the night that")
	w("took it, and weeks stood from the first frost night, both of the middle winter.")
	w("In hindsight, without forecast error.")
	o.holes(w)
	o.load(w, units)
	return b.String()
}

func (r Row) over(units unit.System) string { return over(units, r.Cover, r.MulchCm) }

func over(units unit.System, cover string, mulchCm float64) string {
	s := strings.ReplaceAll(cover, "_", " ")
	if mulchCm > 0 {
		s += ", straw " + units.Depth(mulchCm)
	}
	return s
}

func (r Row) day(i int) string {
	if i >= len(r.OutBy) {
		return "-"
	}
	n, ok := r.OutBy[i].Days.Get()
	if !ok {
		return "stands"
	}
	t := First(leapWinter).Add(n).Start(time.UTC)
	return t.Format("2 Jan")
}

func (r Row) weeks() string {
	v, ok := r.Weeks.Get()
	if !ok {
		return "-"
	}
	return fmt.Sprintf("%.0f", v)
}

func (r Row) low(units unit.System) string {
	c, ok := r.Low.Get()
	if !ok {
		return "-"
	}
	return units.Temperature(c)
}

// holes names the winters that were left out.
func (o Outlook) holes(w func(string, ...any)) {
	complete, last := 0, -1
	for _, c := range o.Winters {
		if c.Winter == last {
			continue
		}
		last = c.Winter
		if c.MissingDays == 0 {
			complete++
			continue
		}
		w("Winter %s is incomplete, %d missing days: not counted.", Name(c.Winter), c.MissingDays)
	}
	w("Complete winters: %d.", complete)
}

// load tells how many notices a winter brings, by what lies over the beds.
func (o Outlook) load(w func(string, ...any), units unit.System) {
	type sum struct {
		over               string
		n, notices, onDays float64
	}
	var sums []*sum
	for _, c := range o.Winters {
		if c.MissingDays > 0 {
			continue
		}
		name := over(units, c.Cover, c.MulchCm)
		i := slices.IndexFunc(sums, func(s *sum) bool { return s.over == name })
		if i < 0 {
			i, sums = len(sums), append(sums, &sum{over: name})
		}
		sums[i].n++
		sums[i].notices += float64(c.Notices)
		sums[i].onDays += float64(c.Days)
	}
	for i, s := range sums {
		if i == 0 {
			w("Harvest-before notices a winter, with a bed of each:")
		}
		w("  over it %-34s%5.1f on %4.1f days", s.over, s.notices/s.n, s.onDays/s.n)
	}
}

func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}
