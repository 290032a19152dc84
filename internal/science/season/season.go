// Package season looks back over past winters: by which day each crop had to be
// out of the ground, in how many winters it never had to, and so by when it is
// wise to plan for it. Its verdicts are hindsight: no forecast error in them.
package season

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// A winter is named by the year of its 1 August and ends with 31 May.
const (
	firstDay = "-08-01"
	endDay   = "-06-01" // of the year after, exclusive
)

// First is the first day of a winter.
func First(year int) farm.Day { return farm.Day(fmt.Sprintf("%04d%s", year, firstDay)) }

// End is the day after a winter's last.
func End(year int) farm.Day { return farm.Day(fmt.Sprintf("%04d%s", year+1, endDay)) }

// Name is how a winter is written: 1978/79.
func Name(year int) string { return fmt.Sprintf("%d/%02d", year, (year+1)%100) }

// Winter is the weather of one winter, hour after hour without a hole; hours
// that nobody measured have no air.
type Winter struct {
	Year        int
	Hours       []weather.Hour
	MissingDays int // days without a minimum or maximum
}

// State is how a winter ended for a crop.
type State string

// States.
const (
	Out        State = "out"        // it had to be out by a day
	Stood      State = "stood"      // it stood until the end of May
	Incomplete State = "incomplete" // the weather has holes before anything was decided
)

// Outcome is what one winter did to one crop under one dressing.
type Outcome struct {
	Winter      int                      `json:"winter"` // year of its 1 August
	Crop        string                   `json:"crop"`
	Cover       string                   `json:"cover"`
	MulchCm     float64                  `json:"mulch_cm"`
	State       State                    `json:"state"`
	By          unit.Maybe[farm.Day]     `json:"out_by,omitzero"`      // the last day before the night that took it
	Low         unit.Maybe[unit.Celsius] `json:"air_low_c,omitzero"`   // lowest air of the night that took it
	FirstFrost  unit.Maybe[farm.Day]     `json:"first_frost,omitzero"` // first night of the winter with air at or below 0 °C
	MissingDays int                      `json:"missing_days"`
}

// Complete tells whether the whole winter was measured. Only such winters count:
// one with holes can only show that a crop was lost, never that it stood, and
// would pull every date forward.
func (o Outcome) Complete() bool { return o.State != Incomplete && o.MissingDays == 0 }

// Quantile is a day by which the crop had to be out in a share of the winters.
type Quantile struct {
	Share  float64         `json:"share"`               // of the winters
	Days   unit.Maybe[int] `json:"days_since_1_august"` // counted with a 29 February, so that a date keeps its number
	Date   string          `json:"date,omitempty"`      // "11-14"
	Stands bool            `json:"stands"`              // not within that share: it still stood at the end of May
}

// Shares of the winters that the outlook gives.
var Shares = []float64{0.1, 0.5, 0.9}

// Row is the outlook of one crop under one dressing.
type Row struct {
	Crop       string                   `json:"crop"`
	Cover      string                   `json:"cover"`
	MulchCm    float64                  `json:"mulch_cm"`
	Winters    int                      `json:"winters"`          // complete ones: those that count
	Stood      int                      `json:"stood"`            // of them
	Incomplete int                      `json:"incomplete"`       // winters with missing days, left out
	OutBy      []Quantile               `json:"out_by,omitempty"` // for Shares; none without a complete winter
	Low        unit.Maybe[unit.Celsius] `json:"air_low_c"`        // median of the lowest air of the nights that took it
	Weeks      unit.Maybe[float64]      `json:"weeks_standing"`   // median, from the first frost night to the day it had to be out, or 31 May
}

// Outlook is the look back over all winters.
type Outlook struct {
	Rows    []Row     `json:"rows"`
	Winters []Counted `json:"winters"`
}

// Counted is one winter over all crops under one dressing.
type Counted struct {
	Winter      int     `json:"winter"`
	Cover       string  `json:"cover"`
	MulchCm     float64 `json:"mulch_cm"`
	MissingDays int     `json:"missing_days"`
	Notices     int     `json:"notices"` // crops that had to come out: a harvest-before notice each
	Days        int     `json:"days"`    // on so many different days
}

// Summarise makes the outlook: a row for each crop and dressing, the crop that
// had to be out first first, the dressings of a crop together.
//
// The quantile of a share q is the smallest day by which at least that share of
// the complete winters had ended the crop (the inverse of the empirical
// distribution). A winter in which it stood is later than every day; where it
// takes such a winter to make up the share, the quantile is "stands".
func Summarise(outcomes []Outcome) Outlook {
	type key struct {
		crop, cover string
		mulch       float64
	}
	groups := map[key][]Outcome{}
	for _, o := range outcomes {
		k := key{o.Crop, o.Cover, o.MulchCm}
		groups[k] = append(groups[k], o)
	}
	var out Outlook
	for k, g := range groups {
		r := rowOf(g)
		r.Crop, r.Cover, r.MulchCm = k.crop, k.cover, k.mulch
		out.Rows = append(out.Rows, r)
	}
	slices.SortFunc(out.Rows, earlier)
	out.Rows = together(out.Rows)
	out.Winters = counted(outcomes)
	return out
}

func rowOf(outcomes []Outcome) Row {
	var r Row
	var days []int
	var weeks, lows []float64
	for _, o := range outcomes {
		if !o.Complete() {
			r.Incomplete++
			continue
		}
		r.Winters++
		day := never
		if by, ok := o.By.Get(); ok && o.State == Out {
			day = DayNumber(by)
			lows = appendKnown(lows, o.Low)
		} else {
			r.Stood++
		}
		days = append(days, day)
		if w, ok := weeksOf(o); ok {
			weeks = append(weeks, w)
		}
	}
	slices.Sort(days)
	for _, q := range Shares {
		if len(days) > 0 {
			r.OutBy = append(r.OutBy, quantile(days, q))
		}
	}
	r.Weeks = median(weeks)
	if low, ok := median(lows).Get(); ok {
		r.Low = unit.Some(unit.Celsius(low))
	}
	return r
}

func appendKnown(to []float64, m unit.Maybe[unit.Celsius]) []float64 {
	if c, ok := m.Get(); ok {
		to = append(to, float64(c))
	}
	return to
}

// never sorts after every day.
const never = 1 << 20

// quantile of sorted day numbers, never standing for a winter that stood.
func quantile(days []int, share float64) Quantile {
	for i, d := range days {
		if float64(i+1) >= share*float64(len(days))-1e-9 && d != never {
			return Quantile{Share: share, Days: unit.Some(d), Date: DateOf(d)}
		}
	}
	return Quantile{Share: share, Stands: true}
}

// weeksOf is how long past the first frost night the crop stood; missing in a
// winter without frost.
func weeksOf(o Outcome) (float64, bool) {
	frost, ok := o.FirstFrost.Get()
	if !ok {
		return 0, false
	}
	last := o.By.Else(End(o.Winter).Add(-1))
	days := last.Start(time.UTC).Sub(frost.Start(time.UTC)).Hours() / 24
	return max(0, days/7), true
}

func median(v []float64) unit.Maybe[float64] {
	if len(v) == 0 {
		return unit.None[float64]()
	}
	slices.Sort(v)
	return unit.Some((v[(len(v)-1)/2] + v[len(v)/2]) / 2)
}

// counted tells what each winter asked of the farm, by dressing.
func counted(outcomes []Outcome) []Counted {
	type key struct {
		winter int
		cover  string
		mulch  float64
	}
	at := map[key]*Counted{}
	days := map[key]map[farm.Day]bool{}
	for _, o := range outcomes {
		k := key{o.Winter, o.Cover, o.MulchCm}
		c := at[k]
		if c == nil {
			c = &Counted{Winter: o.Winter, Cover: o.Cover, MulchCm: o.MulchCm}
			at[k], days[k] = c, map[farm.Day]bool{}
		}
		c.MissingDays = max(c.MissingDays, o.MissingDays)
		if by, ok := o.By.Get(); ok {
			c.Notices++
			days[k][by] = true
			c.Days = len(days[k])
		}
	}
	out := make([]Counted, 0, len(at))
	for _, c := range at {
		out = append(out, *c)
	}
	slices.SortFunc(out, func(a, b Counted) int {
		return cmp.Or(a.Winter-b.Winter, cmp.Compare(a.MulchCm, b.MulchCm), cmp.Compare(bareFirst(a.Cover), bareFirst(b.Cover)))
	})
	return out
}

// bareFirst sorts beds without a cover before all others.
func bareFirst(cover string) string {
	if cover == string(microclimate.NoCover) {
		return ""
	}
	return cover
}
