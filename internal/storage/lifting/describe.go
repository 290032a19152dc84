package lifting

import (
	"cmp"
	"math"
	"slices"

	"winterstand/internal/unit"
)

// describe turns hours by bed into windows, rooms and what is given up.
func (j *job) describe(s solution) Result {
	r := Result{Turns: []Turn{}, GivenUp: []GivenUp{}, Rooms: []RoomUse{}, NeutralPrice: j.neutral, Unpriced: j.noprice, RoomsUnknown: len(j.rooms) == 0, Exact: s.exact, SavedValue: s.value}
	crew, store := j.arrangeCrew(s.hours), j.arrangeRooms(s.hours)
	for w, window := range j.windows {
		r.Turns = append(r.Turns, j.turn(w, window, crew, store))
	}
	for k, room := range j.rooms {
		r.Rooms = append(r.Rooms, j.roomUse(k, room, store.placed))
	}
	j.giveUp(&r, s)
	return r
}

// arrangeCrew fills the slots in order of time, earliest deadline first: an hour
// saved early is an hour in hand if the weather turns.
func (j *job) arrangeCrew(hours []float64) *transport {
	t := newTransport(j.capacity, j.usable)
	for _, i := range j.byWorth {
		t.push(i, hours[i])
	}
	order := j.byDeadline()
	for s := range j.slots {
		for _, i := range order {
			t.prefer(i, s)
		}
	}
	return t
}

func (j *job) byDeadline() []int {
	order := slices.Clone(j.byWorth)
	slices.SortStableFunc(order, func(a, b int) int { return j.beds[a].Deadline.Compare(j.beds[b].Deadline) })
	return order
}

// stores is what each bed still has to put where.
type stores struct {
	placed [][]float64 // bed, room; kg
	left   [][]float64 // the same, less what a window has taken
}

// arrangeRooms gives the dearest bed the room that suits it best.
func (j *job) arrangeRooms(hours []float64) stores {
	t := newTransport(j.free, j.suits)
	for _, i := range j.byWorth {
		if len(j.rooms) > 0 && len(j.beds[i].RoomKinds) > 0 {
			t.push(i, hours[i]*j.beds[i].KgPerHour)
		}
	}
	for _, i := range j.byWorth {
		for _, k := range j.likings(i) {
			t.prefer(i, k)
		}
	}
	s := stores{placed: t.x}
	for _, x := range t.x {
		s.left = append(s.left, slices.Clone(x))
	}
	return s
}

// likings lists the rooms that suit a bed, its best kind first.
func (j *job) likings(i int) []int {
	var out []int
	for k := range j.rooms {
		if j.suits[i][k] {
			out = append(out, k)
		}
	}
	rank := func(k int) int { return slices.Index(j.beds[i].RoomKinds, j.rooms[k].Kind) }
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(rank(a), rank(b)) })
	return out
}

func (j *job) turn(w int, window Window, crew *transport, store stores) Turn {
	t := Turn{Window: window, Lifts: []Lift{}, FreePersonHours: window.End.Sub(window.Start).Hours() * window.People}
	for _, i := range j.byDeadline() {
		hours := 0.0
		for s, slot := range j.slots {
			if slot.window == w {
				hours += crew.x[i][s]
			}
		}
		if hours <= tiny {
			continue
		}
		kg := hours * j.beds[i].KgPerHour
		t.FreePersonHours -= hours
		t.Lifts = append(t.Lifts, Lift{
			BedID: j.beds[i].ID, PersonHours: hours, Kg: kg, Value: hours * j.worth[i], Into: j.place(i, kg, store),
		})
	}
	t.FreePersonHours = math.Max(0, t.FreePersonHours)
	return t
}

// place takes a weight out of what the bed still has to put away.
func (j *job) place(i int, kg float64, store stores) []Placing {
	var out []Placing
	for _, k := range j.likings(i) {
		if put := min(kg, store.left[i][k]); put > tiny {
			store.left[i][k] -= put
			kg -= put
			out = append(out, Placing{j.rooms[k].ID, put})
		}
	}
	return out
}

func (j *job) roomUse(k int, room Room, placed [][]float64) RoomUse {
	u := RoomUse{RoomID: room.ID}
	for i := range placed {
		u.Kg += placed[i][k]
	}
	u.Full = u.Kg >= j.free[k]-tiny
	return u
}

// giveUp names what is left standing, dearest loss first, and why.
func (j *job) giveUp(r *Result, s solution) {
	var byHours []float64 // what the hours alone would allow
	for i, b := range j.beds {
		kg, ok := b.Kg.Get()
		if !ok {
			r.GivenUp = append(r.GivenUp, GivenUp{BedID: b.ID, Why: NoWeight})
			continue
		}
		short := j.hours[i] - s.hours[i]
		if short <= tiny || kg == 0 {
			continue
		}
		if byHours == nil {
			byHours = j.greedy(j.worth, j.hold)
		}
		lost := short * j.worth[i]
		r.LostValue += lost
		r.GivenUp = append(r.GivenUp, GivenUp{
			BedID: b.ID, Kg: unit.Some(short * b.KgPerHour), Value: lost, Why: j.why(i, s.hours[i], byHours[i]),
		})
	}
	slices.SortStableFunc(r.GivenUp, func(a, b GivenUp) int { return cmp.Compare(b.Value, a.Value) })
}

func (j *job) why(i int, hours, byHours float64) Why {
	switch {
	case j.worth[i] == 0:
		return NoValue
	case j.reachable(i) <= tiny:
		return NoWindow
	case byHours > hours+tiny:
		return NoRoom
	}
	return Hours
}

// reachable is the crew time a bed could use at most, in person-hours.
func (j *job) reachable(i int) float64 {
	sum := 0.0
	for s, c := range j.capacity {
		if j.usable[i][s] {
			sum += c
		}
	}
	return sum
}

// marginal asks what one more person-hour in each window, and one more tote in
// each room, would save, by planning again with it.
func (j *job) marginal(r *Result, best solution) {
	byClass := make([]Saving, len(j.hold))
	for c := range j.hold {
		byClass[c] = j.saving(best, extra{class: c, hours: 1, room: -1})
	}
	for s, slot := range j.slots {
		if saves := byClass[j.classOf[s]]; saves.Value > r.Turns[slot.window].HourSaves.Value {
			r.Turns[slot.window].HourSaves = saves
		}
	}
	for k := range j.rooms {
		if !math.IsInf(j.free[k], 1) {
			r.Rooms[k].ToteSaves = j.saving(best, extra{class: -1, room: k, kg: ToteKg})
		}
	}
}

func (j *job) saving(best solution, e extra) Saving {
	with := j.solve(e)
	s := Saving{Value: with.value - best.value}
	if s.Value <= tiny {
		return Saving{}
	}
	for i := range j.beds {
		if kg := (with.hours[i] - best.hours[i]) * j.beds[i].KgPerHour; kg > s.Kg {
			s.BedID, s.Kg = j.beds[i].ID, kg
		}
	}
	return s
}
