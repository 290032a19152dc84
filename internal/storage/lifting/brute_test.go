package lifting

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"winterstand/internal/unit"
)

// brute tries every way to put every hour of every bed nowhere or somewhere. It
// knows nothing of greedy, flow or simplex: it is what they are held against.
type brute struct {
	beds  []Bed
	left  []int // person-hours by one-hour window
	store []int // hours' worth of harvest by room; every bed here lifts 1 kg an hour
	rooms []Room
}

func (b *brute) best(i, hours int) float64 {
	if i == len(b.beds) {
		return 0
	}
	if hours == 0 {
		return b.next(i)
	}
	best := b.next(i) // leave what is left of this bed
	gain := b.beds[i].Likelihood * b.beds[i].PricePerKg.Else(0)
	for w := range b.left {
		if b.left[w] == 0 || hour(float64(w+1)).After(b.beds[i].Deadline) || !b.workable(i, w) {
			continue
		}
		b.left[w]--
		for _, r := range b.choices(i) {
			if r >= 0 {
				b.store[r]--
			}
			best = math.Max(best, gain+b.best(i, hours-1))
			if r >= 0 {
				b.store[r]++
			}
		}
		b.left[w]++
	}
	return best
}

func (b *brute) next(i int) float64 {
	if i+1 == len(b.beds) {
		return 0
	}
	return b.best(i+1, int(b.beds[i+1].Kg.Else(0)))
}

func (b *brute) workable(i, w int) bool {
	if b.beds[i].Workable == nil {
		return true
	}
	for _, s := range b.beds[i].Workable {
		if !s.Start.After(hour(float64(w))) && !s.End.Before(hour(float64(w+1))) {
			return true
		}
	}
	return false
}

// choices lists the rooms with space for a bed; -1: it needs none.
func (b *brute) choices(i int) []int {
	if len(b.beds[i].RoomKinds) == 0 || len(b.rooms) == 0 {
		return []int{-1}
	}
	var out []int
	for r := range b.rooms {
		for _, kind := range b.beds[i].RoomKinds {
			if b.rooms[r].Kind == kind && b.store[r] > 0 {
				out = append(out, r)
			}
		}
	}
	return out
}

// small draws a problem that brute force can finish.
func small(r *rand.Rand, withRooms bool) ([]Bed, []Window, []Room) {
	var windows []Window
	for w := range 1 + r.IntN(4) {
		windows = append(windows, window(float64(w), float64(w+1), float64(r.IntN(3))))
	}
	var rooms []Room
	if withRooms {
		for k := range 1 + r.IntN(2) {
			rooms = append(rooms, Room{ID: int64(k + 1), Kind: fmt.Sprint("kind", r.IntN(2)), FreeKg: unit.Some(float64(r.IntN(4)))})
		}
	}
	var beds []Bed
	hours := 0
	for i := range 1 + r.IntN(5) {
		kg := 1 + r.IntN(3)
		if hours += kg; hours > 6 {
			break
		}
		b := bed(int64(i+1), float64(r.IntN(6)), float64(kg), float64(r.IntN(8)), 1)
		b.Likelihood = float64(1+r.IntN(4)) / 4
		if r.IntN(3) == 0 {
			from := float64(r.IntN(4))
			b.Workable = []Span{{hour(from), hour(from + 1 + float64(r.IntN(3)))}}
		}
		if withRooms && r.IntN(5) > 0 {
			b.RoomKinds = []string{"kind0", "kind1"}[r.IntN(2):]
		}
		beds = append(beds, b)
	}
	return beds, windows, rooms
}

// standingValue is what would be lost with nothing lifted.
func (j *job) standingValue() (value float64) {
	for i := range j.beds {
		value += j.hours[i] * j.worth[i]
	}
	return value
}

func TestAgainstBruteForce(t *testing.T) {
	for _, withRooms := range []bool{false, true} {
		t.Run(fmt.Sprint("rooms ", withRooms), func(t *testing.T) {
			r := rand.New(rand.NewPCG(7, 11))
			losing, simplex := 0, 0
			for n := range 10_000 {
				beds, windows, rooms := small(r, withRooms)
				b := &brute{beds: beds, rooms: rooms}
				for _, w := range windows {
					b.left = append(b.left, int(w.People))
				}
				for _, room := range rooms {
					b.store = append(b.store, int(room.FreeKg.Else(0)))
				}
				want := b.best(0, int(beds[0].Kg.Else(0)))
				j := newJob(beds, windows, rooms)
				got := j.solve(nothing)
				require.True(t, got.exact, "case %d", n)
				require.InDelta(t, want, got.value, 1e-6, "case %d: %+v %+v %+v", n, beds, windows, rooms)
				if n%20 == 0 {
					whole := plan(t, beds, windows, rooms)
					require.InDelta(t, want, whole.SavedValue, 1e-6)
				}
				if j.standingValue() > got.value+1e-6 {
					losing++
				}
				if len(j.plans) > 0 {
					simplex++
				}
			}
			assert.Greater(t, losing, 3000, "most cases must be tight, or this proves nothing")
			if withRooms {
				assert.Greater(t, simplex, 1000, "rooms must bind")
			}
		})
	}
}

// With beds that fill a room at different rates the optimum need not be whole
// hours. Every vertex of the programme is tried instead: each choice of as many
// columns as there are rows, solved, and kept where nothing is negative.
func TestAgainstEveryVertex(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for n := range 400 {
		people, free := float64(1+r.IntN(3)), float64(5+r.IntN(60))
		beds := []Bed{
			bed(1, 2, float64(10+r.IntN(60)), float64(1+r.IntN(5)), float64(5+r.IntN(30))),
			bed(2, 1, float64(10+r.IntN(60)), float64(1+r.IntN(5)), float64(5+r.IntN(30))),
		}
		for i := range beds {
			beds[i].RoomKinds = []string{"cellar"}
		}
		got, err := Plan(beds, []Window{window(0, 1, people), window(1, 2, people)}, []Room{{ID: 1, Kind: "cellar", FreeKg: unit.Some(free)}})
		require.NoError(t, err)
		// x1 bed 1 in the first hour, x2 in the second, x3 bed 2 in the first.
		a := mat.NewDense(5, 8, []float64{
			1, 1, 0, 1, 0, 0, 0, 0,
			0, 0, 1, 0, 1, 0, 0, 0,
			1, 0, 1, 0, 0, 1, 0, 0,
			0, 1, 0, 0, 0, 0, 1, 0,
			beds[0].KgPerHour, beds[0].KgPerHour, beds[1].KgPerHour, 0, 0, 0, 0, 1,
		})
		right := []float64{beds[0].Kg.Else(0) / beds[0].KgPerHour, beds[1].Kg.Else(0) / beds[1].KgPerHour, people, people, free}
		w1, w2 := beds[0].PricePerKg.Else(0)*beds[0].KgPerHour, beds[1].PricePerKg.Else(0)*beds[1].KgPerHour
		want := bestVertex(a, right, []float64{w1, w1, w2, 0, 0, 0, 0, 0})
		require.InDelta(t, want, got.SavedValue, 1e-5, "case %d: %+v", n, beds)
	}
}

func bestVertex(a *mat.Dense, right, worth []float64) float64 {
	m, n := a.Dims()
	best := 0.0
	var choose func(from int, cols []int)
	choose = func(from int, cols []int) {
		if len(cols) == m {
			best = math.Max(best, corner(a, right, worth, cols))
			return
		}
		for c := from; c < n; c++ {
			choose(c+1, append(cols[:len(cols):len(cols)], c))
		}
	}
	choose(0, nil)
	return best
}

func corner(a *mat.Dense, right, worth []float64, cols []int) float64 {
	m := len(right)
	square := mat.NewDense(m, m, nil)
	for k, c := range cols {
		square.SetCol(k, mat.Col(nil, c, a))
	}
	var x mat.VecDense
	if err := x.SolveVec(square, mat.NewVecDense(m, right)); err != nil {
		return 0 // singular: no vertex
	}
	value := 0.0
	for k, c := range cols {
		if x.AtVec(k) < -1e-9 {
			return 0
		}
		value += worth[c] * x.AtVec(k)
	}
	return value
}
