package supply

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/unit"
)

// No kilogram is ever counted twice: through harvest, storing, selling, spoiling
// and loss the whole stays the whole, and the outlook counts what the books hold.
func TestNoKilogramIsCountedTwice(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		kg := rapid.Float64Range(0, 300)
		s := Stock{Beds: map[int64]float64{1: kg.Draw(rt, "bed 1"), 2: kg.Draw(rt, "bed 2")}}
		whole := s.Standing()
		steps := rapid.IntRange(1, 25).Draw(rt, "steps")
		for n := range steps {
			before := fmt.Sprint(s)
			next := move(rt, s, n)
			assert.Equal(rt, before, fmt.Sprint(s), "the old books stay as they were")
			s = next
			got := s.Standing() + s.Stored() + s.Sold + s.Gone
			if math.Abs(got-whole-s.Found) > 1e-6 {
				t.Fatalf("%g kg became %g after %d moves", whole, got, n+1)
			}
		}
		checkOutlook(t, rt, s)
	})
}

func move(rt *rapid.T, s Stock, n int) Stock {
	id := func(name string) int64 { return rapid.Int64Range(1, 3).Draw(rt, fmt.Sprint(name, n)) }
	share := rapid.Float64Range(0, 1.2).Draw(rt, fmt.Sprint("share ", n))
	var next Stock
	var err error
	switch rapid.IntRange(0, 4).Draw(rt, fmt.Sprint("move ", n)) {
	case 0:
		bed := id("bed ")
		next, err = s.Harvest(bed, id("lot "), share*s.Beds[bed])
	case 1:
		lot := id("lot ")
		next, err = s.Store(lot, id("to "), share*s.Lots[lot])
	case 2:
		lot := id("lot ")
		next, err = s.Sell(lot, share*s.Lots[lot])
	case 3:
		lot := id("lot ")
		next, err = s.Spoil(lot, share*s.Lots[lot])
	default:
		bed := id("bed ")
		next, err = s.Lose(bed, share*s.Beds[bed])
	}
	if err != nil {
		assert.Greater(rt, share, 1.0, "only taking more than there is may fail: %v", err)
		assert.Equal(rt, s, next, "a move that fails changes nothing")
	}
	return next
}

func checkOutlook(t *testing.T, rt *rapid.T, s Stock) {
	in := input(t)
	for id, kg := range s.Beds {
		b := sureBed(id, "carrot", kg)
		b.Alive = []Chance{{"2026-12-01", rapid.Float64Range(0.3, 1).Draw(rt, "p1")}, {"2027-02-01", rapid.Float64Range(0, 0.3).Draw(rt, "p2")}}
		if rapid.Bool().Draw(rt, "regrows") {
			b.Regrow = unit.Some(Regrowth{From: "2027-03-29", Until: "2027-06-01", Kg: 10, Likelihood: rapid.Float64Range(0, 1).Draw(rt, "crown")})
		}
		in.Standing = append(in.Standing, b)
	}
	for id, kg := range s.Lots {
		days := rapid.IntRange(1, 200).Draw(rt, "keeps")
		in.Lots = append(in.Lots, Lot{LotID: id, Crop: "carrot", Kg: kg,
			P10: in.Now.AddDate(0, 0, days/2), P50: in.Now.AddDate(0, 0, days), P90: in.Now.AddDate(0, 0, 2*days)})
	}
	in.Wants = []Want{want("carrot", rapid.Float64Range(0, 30).Draw(rt, "wanted"))}
	r, err := Outlook(in)
	require.NoError(rt, err)
	total := r.Totals[0]
	assert.InDelta(rt, s.Standing()+s.Stored(), total.Start, 1e-6)
	assert.InDelta(rt, total.Start+total.Regrown, total.Used+total.LostStanding+total.Spoiled+total.Left, 1e-6)
	used := 0.0
	for _, row := range r.Rows {
		got := row.FromStanding + row.FromRegrowth + row.FromStored
		used += got
		assert.InDelta(rt, row.WantedKg, got+row.ShortKg, 1e-6)
		assert.LessOrEqual(rt, got, row.StandingKg+row.StoredKg+1e-6, "no more is taken than is there")
		assert.LessOrEqual(rt, row.StandingKg+row.StoredKg, total.Start+total.Regrown+1e-6)
	}
	assert.InDelta(rt, total.Used, used, 1e-6)
}

func TestMoreNeverLeavesShorter(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		in := input(t)
		lot := func(id int64) Lot {
			days := rapid.IntRange(1, 200).Draw(rt, "keeps")
			return sureLot(id, "beet", rapid.Float64Range(0, 100).Draw(rt, "kg"), in.Now.AddDate(0, 0, days))
		}
		in.Lots = []Lot{lot(1), lot(2)}
		in.Wants = []Want{want("beet", 8)}
		before := outlook(t, in)
		in.Lots = append(in.Lots, lot(3))
		after := outlook(t, in)
		short := func(r Result) (kg float64) {
			for _, row := range r.Rows {
				kg += row.ShortKg
			}
			return kg
		}
		assert.LessOrEqual(rt, short(after), short(before)+1e-9)
	})
}

func TestHarvestBeyondTheEstimateIsFound(t *testing.T) {
	s := Stock{Beds: map[int64]float64{1: 30}}
	s, err := s.Harvest(1, 5, 42)
	require.NoError(t, err)
	assert.Equal(t, Stock{Beds: map[int64]float64{1: 0}, Lots: map[int64]float64{5: 42}, Found: 12}, s)
	rest := s
	for range 420 {
		rest, err = rest.Sell(5, 0.1)
		require.NoError(t, err, "420 times 0.1 kg is all of 42 kg, whatever binary fractions say")
	}
	assert.InDelta(t, 0, rest.Stored(), 1e-9)
	_, err = s.Sell(5, 43)
	assert.ErrorContains(t, err, "lot 5 holds 42 kg")
	_, err = s.Sell(5, math.NaN())
	assert.Error(t, err)
	_, err = s.Harvest(1, 5, math.NaN())
	assert.ErrorContains(t, err, "bed 1")
	_, err = s.Lose(1, 1)
	assert.ErrorContains(t, err, "bed 1 holds 0 kg")
}
