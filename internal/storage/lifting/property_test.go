package lifting

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// farmful is a plan of a real size.
func farmful(r *rand.Rand, beds, windows int) ([]Bed, []Window, []Room) {
	kinds := [][]string{{farm.ColdStore, farm.Cellar, farm.Fridge}, {farm.Airy, farm.Cellar}, {farm.Fridge, farm.ColdStore}, nil}
	var w []Window
	for n := range windows {
		w = append(w, window(float64(12*n), float64(12*n)+3+4*r.Float64(), float64(1+r.IntN(3))))
	}
	fields := make([][]Span, 4) // beds of one field and kind thaw together
	for f := range fields[1:] {
		for k := range windows {
			fields[f+1] = append(fields[f+1], Span{hour(float64(12*k) + 2*r.Float64()), hour(float64(12*k) + 3 + 3*r.Float64())})
		}
	}
	var b []Bed
	for n := range beds {
		one := bed(int64(n+1), 12*float64(1+r.IntN(windows))*r.Float64()+3, 20+200*r.Float64(), 1+6*r.Float64(), 8+50*r.Float64())
		one.Likelihood = r.Float64()
		one.RoomKinds = kinds[r.IntN(len(kinds))]
		one.Workable = fields[r.IntN(len(fields))]
		b = append(b, one)
	}
	rooms := []Room{
		{ID: 1, Kind: farm.ColdStore, FreeKg: unit.Some(float64(beds) * 20)},
		{ID: 2, Kind: farm.Cellar, FreeKg: unit.Some(float64(beds) * 8)},
		{ID: 3, Kind: farm.Fridge, FreeKg: unit.Some(60.0)},
		{ID: 4, Kind: farm.Airy, FreeKg: unit.Some(float64(beds) * 10)},
	}
	return b, w, rooms
}

func TestPropertiesOfAPlan(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		beds, windows, rooms := farmful(r, 1+r.IntN(10), 1+r.IntN(4))
		got := plan(t, beds, windows, rooms)
		require.True(rt, got.Exact)

		shuffled := slices.Clone(beds)
		r.Shuffle(len(shuffled), func(a, b int) { shuffled[a], shuffled[b] = shuffled[b], shuffled[a] })
		again := newJob(shuffled, windows, rooms).solve(nothing).value
		assert.InDelta(rt, got.SavedValue, again, 1e-4, "the order of the beds does not matter")

		more := slices.Clone(windows)
		more[0].People++
		assert.GreaterOrEqual(rt, newJob(beds, more, rooms).solve(nothing).value, got.SavedValue-1e-4, "more hands never save less")

		wider := slices.Clone(rooms)
		wider[0].FreeKg = unit.Some(wider[0].FreeKg.Else(0) + ToteKg)
		with := newJob(beds, windows, wider).solve(nothing).value
		assert.GreaterOrEqual(rt, with, got.SavedValue-1e-4, "more room never saves less")
		assert.InDelta(rt, got.Rooms[0].ToteSaves.Value, with-got.SavedValue, 1e-3, "a tote saves what the plan with it saves")

		free := newJob(beds, windows, nil).solve(nothing).value
		assert.GreaterOrEqual(rt, free, got.SavedValue-1e-4, "a limit never helps")
	})
}

// The rule that stands in for the programme must keep every limit, and can only
// be as good or worse.
func TestTheSimpleRuleKeepsTheLimits(t *testing.T) {
	worse := 0
	for seed := range uint64(60) {
		beds, windows, rooms := farmful(rand.New(rand.NewPCG(seed, 9)), 12, 3)
		j := newJob(beds, windows, rooms)
		hours, kg := j.capacities(nothing)
		s := solution{hours: j.careful(hours, kg)}
		for i, h := range s.hours {
			s.value += h * j.worth[i]
		}
		best := j.solve(nothing)
		assert.LessOrEqual(t, s.value, best.value+1e-4)
		if s.value < best.value-1 {
			worse++
		}
		assert.True(t, j.fits(s.hours, kg))
		r := j.describe(s)
		assert.False(t, r.Exact, "it says that it may not be the best")
		audit(t, r, beds, windows, rooms)
	}
	assert.Greater(t, worse, 5, "and it is not the best, or no programme would be needed")
}

func TestAWholeFarm(t *testing.T) {
	beds, windows, rooms := farmful(rand.New(rand.NewPCG(1, 2)), 40, 8)
	r := plan(t, beds, windows, rooms)
	assert.True(t, r.Exact)
	assert.Greater(t, r.LostValue, 0.0)
	for i := 1; i < len(r.GivenUp); i++ {
		assert.GreaterOrEqual(t, r.GivenUp[i-1].Value, r.GivenUp[i].Value, "the dearest loss first")
	}
}

func BenchmarkPlan(b *testing.B) {
	for _, size := range []int{20, 40, 80, 200} {
		beds, windows, rooms := farmful(rand.New(rand.NewPCG(1, 2)), size, 8)
		b.Run(fmt.Sprint(size, " beds"), func(b *testing.B) {
			for b.Loop() {
				if _, err := Plan(beds, windows, rooms); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
