package season

import (
	"cmp"
	"time"

	"winterstand/internal/farm"
)

// leapWinter has a 29 February, so every date of a winter has its own number.
const leapWinter = 1999

// DayNumber counts days since 1 August in a winter with a 29 February; the
// first of March is 213 in every year.
func DayNumber(d farm.Day) int {
	t := d.Start(time.UTC)
	year := leapWinter
	if t.Month() < time.August {
		year++
	}
	same := time.Date(year, t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
	return int(same.Sub(First(leapWinter).Start(time.UTC)) / (24 * time.Hour))
}

// DateOf is the way back, as "11-14".
func DateOf(number int) string { return string(First(leapWinter).Add(number))[5:] }

// earlier orders rows by the day they had to be out in half of the winters,
// then in a tenth, then by name; what stands comes last.
func earlier(a, b Row) int {
	return cmp.Or(cmp.Compare(a.at(1), b.at(1)), cmp.Compare(a.at(0), b.at(0)), cmp.Compare(a.at(2), b.at(2)),
		cmp.Compare(a.Crop, b.Crop), cmp.Compare(bareFirst(a.Cover), bareFirst(b.Cover)), cmp.Compare(a.MulchCm, b.MulchCm))
}

// together brings the rows of a crop to its earliest one.
func together(rows []Row) []Row {
	var order []string
	byCrop := map[string][]Row{}
	for _, r := range rows {
		if len(byCrop[r.Crop]) == 0 {
			order = append(order, r.Crop)
		}
		byCrop[r.Crop] = append(byCrop[r.Crop], r)
	}
	out := rows[:0:0]
	for _, crop := range order {
		out = append(out, byCrop[crop]...)
	}
	return out
}

// at is the day number of the i-th share.
func (r Row) at(i int) int {
	if i >= len(r.OutBy) {
		return never + 1
	}
	return r.OutBy[i].Days.Else(never)
}
