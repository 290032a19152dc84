package season

import (
	"fmt"
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
	const line = "%-22s%-18s%8s%8s%8s%8s%8s"
	w(line, "", "", "1", "5", "9", "at air", "weeks")
	w(line, "crop", "over it", "in 10", "in 10", "in 10", "low", "stood")
	for _, r := range o.Rows {
		name := r.Crop
		if title != nil {
			name = title(r.Crop)
		}
		w(line, cut(name, 21), cut(r.over(units), 17), r.day(0), r.day(1), r.day(2), r.low(units), r.weeks())
	}
	w("")
	w("stands: still in the ground and sound on 31 May. At air low: of the night that")
	w("took it, and weeks stood from the first frost night, both of the middle winter.")
	w("In hindsight, without forecast error.")
	o.holes(w)
	o.load(w)
	return b.String()
}

func (r Row) over(units unit.System) string {
	s := strings.ReplaceAll(r.Cover, "_", " ")
	if r.MulchCm > 0 {
		s += ", straw " + units.Depth(r.MulchCm)
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
	complete := 0
	for _, c := range o.Winters {
		if c.MissingDays == 0 {
			complete++
			continue
		}
		w("Winter %s is incomplete, %d missing days: not counted.", Name(c.Winter), c.MissingDays)
	}
	w("Complete winters: %d.", complete)
}

// load tells how many notices a winter brings.
func (o Outlook) load(w func(string, ...any)) {
	n, notices, days := 0, 0, 0
	for _, c := range o.Winters {
		if c.MissingDays == 0 {
			n, notices, days = n+1, notices+c.Notices, days+c.Days
		}
	}
	if n > 0 {
		w("A bed of each: %.1f harvest-before notices a winter, on %.1f days.", float64(notices)/float64(n), float64(days)/float64(n))
	}
}

func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}
