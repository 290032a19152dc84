package lifting

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// job is a plan's problem made ready: crew time cut into slots within which
// every bed is either workable or not.
type job struct {
	beds    []Bed
	windows []Window
	rooms   []Room

	hours   []float64 // by bed, to lift all of it; 0 for an unknown weight
	worth   []float64 // by bed, value at risk per person-hour
	neutral float64
	noprice []int64

	slots    []slot
	capacity []float64 // by slot, person-hours
	usable   [][]bool  // bed, slot
	classOf  []int     // by slot: those that the same beds can use count as one
	hold     []float64 // by class, person-hours
	reach    [][]bool  // bed, class
	suits    [][]bool  // bed, room
	free     []float64 // by room, kg; infinite where unknown
	byWorth  []int     // beds, dearest hour first
	plans    []vertex  // plans met on the way, to begin with when planning again
}

// slot is a part of a window.
type slot struct {
	Span
	window int
}

func newJob(beds []Bed, windows []Window, rooms []Room) *job {
	j := &job{beds: beds, windows: windows, rooms: rooms}
	j.neutral, j.noprice = neutralPrice(beds)
	for _, b := range beds {
		j.hours = append(j.hours, b.Kg.Else(0)/b.KgPerHour)
		j.worth = append(j.worth, b.Likelihood*b.PricePerKg.Else(j.neutral)*b.KgPerHour)
	}
	j.byWorth = j.dearestFirst(j.worth)
	j.cutSlots()
	j.classify()
	j.fitRooms()
	return j
}

// dearestFirst orders the beds by what an hour in them is worth.
func (j *job) dearestFirst(worth []float64) []int {
	order := make([]int, len(j.beds))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(worth[b], worth[a]),
			j.beds[a].Deadline.Compare(j.beds[b].Deadline), cmp.Compare(j.beds[a].ID, j.beds[b].ID), cmp.Compare(a, b))
	})
	return order
}

// cutSlots cuts each window at every instant where a bed becomes or ceases to
// be workable.
func (j *job) cutSlots() {
	var cuts []time.Time
	for _, b := range j.beds {
		cuts = append(cuts, b.Deadline)
		for _, s := range b.Workable {
			cuts = append(cuts, s.Start, s.End)
		}
	}
	slices.SortFunc(cuts, time.Time.Compare)
	for w, window := range j.windows {
		at := window.Start
		for _, cut := range append(cuts[:len(cuts):len(cuts)], window.End) {
			if cut.After(at) && !cut.After(window.End) {
				j.slots = append(j.slots, slot{Span{at, cut}, w})
				at = cut
			}
		}
	}
	slices.SortStableFunc(j.slots, func(a, b slot) int { return a.Start.Compare(b.Start) })
	for _, s := range j.slots {
		j.capacity = append(j.capacity, s.End.Sub(s.Start).Hours()*j.windows[s.window].People)
	}
	for _, b := range j.beds {
		usable := make([]bool, len(j.slots))
		for n, s := range j.slots {
			usable[n] = b.workable(s.Span)
		}
		j.usable = append(j.usable, usable)
	}
}

// classify joins slots that the same beds can use: only their sum matters.
func (j *job) classify() {
	seen := map[string]int{}
	j.reach = make([][]bool, len(j.beds))
	for s := range j.slots {
		key := make([]byte, len(j.beds))
		for i := range j.beds {
			key[i] = byte(one(j.usable[i][s]))
		}
		c, ok := seen[string(key)]
		if !ok {
			c = len(j.hold)
			seen[string(key)] = c
			j.hold = append(j.hold, 0)
			for i := range j.beds {
				j.reach[i] = append(j.reach[i], j.usable[i][s])
			}
		}
		j.classOf = append(j.classOf, c)
		j.hold[c] += j.capacity[s]
	}
}

func (b Bed) workable(s Span) bool {
	if s.End.After(b.Deadline) {
		return false
	}
	return b.Workable == nil || slices.ContainsFunc(b.Workable, func(w Span) bool {
		return !s.Start.Before(w.Start) && !s.End.After(w.End)
	})
}

func (j *job) fitRooms() {
	for _, r := range j.rooms {
		j.free = append(j.free, r.FreeKg.Else(math.Inf(1)))
	}
	for _, b := range j.beds {
		suits := make([]bool, len(j.rooms))
		for k, r := range j.rooms {
			suits[k] = slices.Contains(b.RoomKinds, r.Kind)
		}
		j.suits = append(j.suits, suits)
	}
}

// roomless tells whether no room limits this bed.
func (j *job) roomless(i int) bool {
	if len(j.beds[i].RoomKinds) == 0 || len(j.rooms) == 0 {
		return true
	}
	for k := range j.rooms {
		if j.suits[i][k] && math.IsInf(j.free[k], 1) {
			return true
		}
	}
	return false
}

// extra is more of one capacity than there is; -1: none of that sort.
type extra struct {
	class int
	hours float64
	room  int
	kg    float64
}

var nothing = extra{class: -1, room: -1}

func (j *job) capacities(e extra) (hours, kg []float64) {
	hours, kg = slices.Clone(j.hold), slices.Clone(j.free)
	if e.class >= 0 {
		hours[e.class] += e.hours
	}
	if e.room >= 0 {
		kg[e.room] += e.kg
	}
	return hours, kg
}

// solution is how many person-hours each bed gets.
type solution struct {
	hours []float64
	value float64
	exact bool
}

// solve gives the best hours by bed, with more of some capacity where asked.
func (j *job) solve(e extra) solution {
	hours, kg := j.capacities(e)
	s := solution{hours: j.greedy(j.worth, hours), exact: true}
	if !j.fits(s.hours, kg) {
		var plans []vertex
		var err error
		if s.hours, plans, err = j.programme(hours, kg, j.plans); err != nil {
			s.hours, s.exact = j.careful(hours, kg), false
		} else if e == nothing {
			j.plans = plans
		}
	}
	for i, h := range s.hours {
		s.value += h * j.worth[i]
	}
	return s
}

// greedy is the best plan where only hours bind: the dearest hour first, each
// bed as much as can still be placed beside what was chosen before.
func (j *job) greedy(worth, capacity []float64) []float64 {
	t := newTransport(capacity, j.reach)
	out := make([]float64, len(j.beds))
	for _, i := range j.dearestFirst(worth) {
		if worth[i] > 0 {
			out[i] = t.push(i, j.hours[i])
		}
	}
	return out
}

// fits tells whether the rooms take what these hours bring.
func (j *job) fits(hours, kg []float64) bool {
	t := newTransport(kg, j.suits)
	for i, h := range hours {
		if j.roomless(i) {
			continue
		}
		want := h * j.beds[i].KgPerHour
		if t.push(i, want) < want-tiny {
			return false
		}
	}
	return true
}

// careful is the plain rule used if the programme fails: dearest hour first,
// each bed no more than both the hours and the rooms still take.
func (j *job) careful(capacity, kg []float64) []float64 {
	crew, store := newTransport(capacity, j.reach), newTransport(kg, j.suits)
	out := make([]float64, len(j.beds))
	for _, i := range j.byWorth {
		h := j.hours[i]
		if j.worth[i] <= 0 {
			continue
		}
		if !j.roomless(i) {
			h = store.push(i, h*j.beds[i].KgPerHour) / j.beds[i].KgPerHour
		}
		out[i] = crew.push(i, h)
	}
	return out
}
