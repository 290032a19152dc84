package validation

import (
	"math"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// bridgedRow is an hour as the model sees it.
type bridgedRow struct {
	Row
	bridged bool
}

// shortGap is how many hours in a row may lack an air temperature and still be
// scored, the course between being nearly straight.
const shortGap = 3

// hourly gives every hour from the first row to the last. Where air temperature
// is missing it is drawn straight between its neighbours for a short gap, and
// repeats the day before over a longer one.
func hourly(rows []Row) []bridgedRow {
	first := rows[0].Hour.At.UTC().Truncate(time.Hour)
	n := int(rows[len(rows)-1].Hour.At.Sub(first)/time.Hour) + 1
	all := make([]bridgedRow, n)
	air := make([]float64, n)
	width := len(rows[0].Soil)
	for i := range all {
		all[i].Hour = weather.Hour{At: first.Add(time.Duration(i) * time.Hour)}
		all[i].Soil = make([]unit.Maybe[unit.Celsius], width)
		air[i] = math.NaN()
	}
	for _, r := range rows {
		i := int(r.Hour.At.Sub(first) / time.Hour)
		at := all[i].Hour.At
		all[i].Row = r
		all[i].Hour.At = at
		if a, ok := r.Hour.Air.Get(); ok {
			air[i] = float64(a)
		}
	}
	for i := 0; i < n; i++ {
		if math.IsNaN(air[i]) {
			i = span(all, air, i)
		}
	}
	return all
}

// span fills the gap that begins at i and gives its last hour.
func span(all []bridgedRow, air []float64, i int) int {
	end := i
	for end < len(air) && math.IsNaN(air[end]) {
		end++
	}
	for j := i; j < end; j++ {
		v, long := across(air, i, j, end)
		air[j] = v
		all[j].Hour.Air = unit.Some(unit.Celsius(v))
		all[j].bridged = long
	}
	return end - 1
}

// across is the value at j of a gap from i up to end.
func across(air []float64, i, j, end int) (v float64, long bool) {
	if i > 0 && end < len(air) && end-i <= shortGap {
		share := float64(j-i+1) / float64(end-i+1)
		return air[i-1] + share*(air[end]-air[i-1]), false
	}
	for back := 24; back <= 72; back += 24 {
		if j >= back && !math.IsNaN(air[j-back]) {
			return air[j-back], true
		}
	}
	if i > 0 {
		return air[i-1], true
	}
	if end < len(air) {
		return air[end], true
	}
	return 0, true
}
