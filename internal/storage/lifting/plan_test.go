package lifting

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

var morning = time.Date(2026, 11, 9, 14, 0, 0, 0, time.UTC)

func hour(n float64) time.Time { return morning.Add(time.Duration(n * float64(time.Hour))) }

func window(from, to, people float64) Window { return Window{Span{hour(from), hour(to)}, people} }

func bed(id int64, deadline, kg, price, rate float64) Bed {
	return Bed{ID: id, Deadline: hour(deadline), Likelihood: 1, Kg: unit.Some(kg), PricePerKg: unit.Some(price), KgPerHour: rate}
}

func plan(t testing.TB, beds []Bed, windows []Window, rooms []Room) Result {
	t.Helper()
	r, err := Plan(beds, windows, rooms)
	require.NoError(t, err)
	audit(t, r, beds, windows, rooms)
	return r
}

// audit checks what must hold for every plan, however it was found.
func audit(t testing.TB, r Result, beds []Bed, windows []Window, rooms []Room) {
	t.Helper()
	const eps = 1e-4
	const minutes = 4.0 / 60 // a span begins and ends within a minute of the audit's
	lifted, stored := map[int64]float64{}, map[int64]float64{}
	byID := map[int64]Bed{}
	for _, b := range beds {
		byID[b.ID] = b
	}
	value := 0.0
	for w, turn := range r.Turns {
		used := 0.0
		for _, l := range turn.Lifts {
			b := byID[l.BedID]
			used += l.PersonHours
			lifted[l.BedID] += l.Kg
			value += l.Value
			assert.InDelta(t, l.PersonHours*b.KgPerHour, l.Kg, eps)
			assert.LessOrEqual(t, l.PersonHours, workableIn(b, turn.Span)*turn.People+minutes*turn.People, "bed %d lifted only while workable and before its deadline", b.ID)
			into := 0.0
			for _, p := range l.Into {
				into += p.Kg
				stored[p.RoomID] += p.Kg
			}
			if len(rooms) > 0 && len(b.RoomKinds) > 0 {
				assert.InDelta(t, l.Kg, into, eps, "all of bed %d goes into rooms", b.ID)
			}
		}
		assert.LessOrEqual(t, used, windows[w].People*windows[w].End.Sub(windows[w].Start).Hours()+eps)
	}
	for _, b := range beds {
		assert.LessOrEqual(t, lifted[b.ID], b.Kg.Else(0)+eps)
	}
	for _, room := range rooms {
		assert.LessOrEqual(t, stored[room.ID], room.FreeKg.Else(math.Inf(1))+eps)
	}
	for _, g := range r.GivenUp {
		if kg, ok := g.Kg.Get(); ok {
			assert.InDelta(t, byID[g.BedID].Kg.Else(0), lifted[g.BedID]+kg, eps, "bed %d: lifted and given up make the whole", g.BedID)
		}
	}
	assert.InDelta(t, r.SavedValue, value, eps*10)
}

// workableIn is how many hours of a span a bed can be harvested in.
func workableIn(b Bed, s Span) (hours float64) {
	spans := b.Workable
	if spans == nil {
		spans = []Span{s}
	}
	for minute := s.Start; minute.Before(s.End) && minute.Before(b.Deadline); minute = minute.Add(time.Minute) {
		for _, w := range spans {
			if !minute.Before(w.Start) && minute.Before(w.End) {
				hours += 1.0 / 60
				break
			}
		}
	}
	return hours
}

// Unit-time tasks with deadlines and penalties, the standard textbook example
// (Cormen, Leiserson, Rivest & Stein, task scheduling, from memory): the least
// total penalty is 50.
func TestTextbookExample(t *testing.T) {
	deadlines := []float64{4, 2, 4, 3, 1, 4, 6}
	penalties := []float64{70, 60, 50, 40, 30, 20, 10}
	var beds []Bed
	for i := range deadlines {
		beds = append(beds, bed(int64(i+1), deadlines[i], 1, penalties[i], 1))
	}
	r := plan(t, beds, []Window{window(0, 7, 1)}, nil)
	assert.InDelta(t, 50, r.LostValue, 1e-9)
	assert.InDelta(t, 230, r.SavedValue, 1e-9)
	require.Len(t, r.GivenUp, 2)
	assert.Equal(t, []int64{5, 6}, []int64{r.GivenUp[0].BedID, r.GivenUp[1].BedID}, "the tasks with penalties 30 and 20 are late")
	assert.InDelta(t, 30, r.Turns[0].HourSaves.Value, 1e-9, "one more hour before the first deadline saves the dearest late task")
	assert.True(t, r.Exact)
}

func TestEarliestDeadlineIsLiftedFirst(t *testing.T) {
	beds := []Bed{bed(1, 8, 40, 5, 20), bed(2, 3, 40, 1, 20)}
	r := plan(t, beds, []Window{window(0, 3, 1), window(4, 8, 1)}, nil)
	require.Len(t, r.Turns[0].Lifts, 2)
	assert.Equal(t, int64(2), r.Turns[0].Lifts[0].BedID)
	assert.InDelta(t, 2, r.Turns[0].Lifts[0].PersonHours, 1e-6)
	assert.Empty(t, r.GivenUp)
	assert.InDelta(t, 3, r.Turns[1].FreePersonHours, 1e-6)
	assert.Zero(t, r.Turns[0].HourSaves, "nothing is lost, so nothing more is saved")
}

func TestPartOfABedIsBetterThanNone(t *testing.T) {
	r := plan(t, []Bed{bed(1, 2, 100, 2, 20)}, []Window{window(0, 2.5, 1)}, nil)
	require.Len(t, r.GivenUp, 1)
	g := r.GivenUp[0]
	assert.InDelta(t, 60, g.Kg.Else(-1), 1e-6, "two hours before the deadline at 20 kg an hour, of 100 kg")
	assert.InDelta(t, 120, g.Value, 1e-6)
	assert.Equal(t, Hours, g.Why)
	assert.Equal(t, int64(1), r.Turns[0].HourSaves.BedID)
	assert.InDelta(t, 20, r.Turns[0].HourSaves.Kg, 1e-6)
	assert.InDelta(t, 40, r.Turns[0].HourSaves.Value, 1e-6)
}

// Two people for three hours are six hours of work; a bed of 40 kg at 20 kg an hour
// takes two of them.
func TestTheHoursThatAreLeftAreThoseOfAllPeople(t *testing.T) {
	r := plan(t, []Bed{bed(1, 5, 40, 1, 20)}, []Window{window(0, 3, 2)}, nil)
	assert.InDelta(t, 4, r.Turns[0].FreePersonHours, 1e-6)
	assert.InDelta(t, 2, r.Turns[0].Lifts[0].PersonHours, 1e-6)
	assert.InDelta(t, 40, r.Turns[0].Lifts[0].Value, 1e-6)
}

func TestWorkableHoursOfABed(t *testing.T) {
	thawed := bed(1, 10, 60, 3, 20)
	thawed.Workable = []Span{{hour(3), hour(4)}, {hour(5), hour(6)}}
	other := bed(2, 10, 40, 2, 20)
	r := plan(t, []Bed{thawed, other}, []Window{window(0, 4.5, 1)}, nil)
	require.Len(t, r.Turns[0].Lifts, 2)
	assert.InDelta(t, 20, r.Turns[0].Lifts[0].Kg, 1e-6, "one thawed hour in the window")
	assert.InDelta(t, 40, r.Turns[0].Lifts[1].Kg, 1e-6)
	assert.Equal(t, int64(1), r.GivenUp[0].BedID)

	never := thawed
	never.Workable = []Span{}
	r = plan(t, []Bed{never}, []Window{window(0, 4.5, 1)}, nil)
	assert.Equal(t, NoWindow, r.GivenUp[0].Why)
	r = plan(t, []Bed{bed(1, -1, 60, 3, 20)}, []Window{window(0, 4.5, 1)}, nil)
	assert.Equal(t, NoWindow, r.GivenUp[0].Why)
}

func TestRoomsBind(t *testing.T) {
	roots := []string{farm.ColdStore, farm.Cellar}
	a, b := bed(1, 5, 100, 1, 50), bed(2, 5, 100, 3, 10)
	a.RoomKinds, b.RoomKinds = roots, roots
	rooms := []Room{{ID: 7, Kind: farm.Cellar, FreeKg: unit.Some(20.0)}, {ID: 8, Kind: farm.ColdStore, FreeKg: unit.Some(30.0)}, {ID: 9, Kind: farm.Airy, FreeKg: unit.Some(500.0)}}
	r := plan(t, []Bed{a, b}, []Window{window(0, 5, 1)}, rooms)
	assert.True(t, r.Exact)
	// By the hour bed 1 is dearer (50 against 30), by the kilogram bed 2 is. There
	// is room for 50 kg, which five hours of bed 2 just fill.
	assert.InDelta(t, 150, r.SavedValue, 1e-4)
	assert.Equal(t, NoRoom, whyOf(r, 1))
	assert.True(t, r.Rooms[0].Full)
	assert.True(t, r.Rooms[1].Full)
	assert.False(t, r.Rooms[2].Full)
	assert.Zero(t, r.Rooms[2].ToteSaves, "an airy loft is no help to roots")
	assert.Greater(t, r.Rooms[0].ToteSaves.Value, 0.0)
	assert.Equal(t, int64(8), r.Turns[0].Lifts[0].Into[0].RoomID, "the best kind of room first")
}

func whyOf(r Result, id int64) Why {
	for _, g := range r.GivenUp {
		if g.BedID == id {
			return g.Why
		}
	}
	return ""
}

func TestRoomsThatDoNotLimit(t *testing.T) {
	a := bed(1, 5, 100, 1, 50)
	a.RoomKinds = []string{farm.ColdStore}
	none := plan(t, []Bed{a}, []Window{window(0, 5, 1)}, nil)
	assert.True(t, none.RoomsUnknown, "it says that no room is recorded")
	assert.Empty(t, none.GivenUp)

	open := plan(t, []Bed{a}, []Window{window(0, 5, 1)}, []Room{{ID: 3, Kind: farm.ColdStore}})
	assert.Empty(t, open.GivenUp, "a room of unknown size does not limit")
	assert.Equal(t, []Placing{{3, 100}}, open.Turns[0].Lifts[0].Into)

	wrong := plan(t, []Bed{a}, []Window{window(0, 5, 1)}, []Room{{ID: 3, Kind: farm.Freezer}})
	assert.Equal(t, NoRoom, whyOf(wrong, 1))

	fresh := bed(1, 5, 100, 1, 50)
	sold := plan(t, []Bed{fresh}, []Window{window(0, 5, 1)}, []Room{{ID: 3, Kind: farm.Freezer, FreeKg: unit.Some(0.0)}})
	assert.Empty(t, sold.GivenUp, "what needs no room is not limited by one")
}

func TestWhatIsMissingIsNamed(t *testing.T) {
	unknown := bed(1, 5, 0, 2, 20)
	unknown.Kg = unit.None[float64]()
	free := bed(2, 5, 40, 0, 20)
	free.PricePerKg = unit.None[float64]()
	safe := bed(3, 5, 40, 4, 20)
	safe.Likelihood = 0
	r := plan(t, []Bed{unknown, free, safe, bed(4, 5, 10, 8, 20)}, []Window{window(0, 5, 1)}, nil)
	assert.Equal(t, NoWeight, whyOf(r, 1))
	assert.Equal(t, NoValue, whyOf(r, 3))
	assert.Equal(t, []int64{2}, r.Unpriced)
	assert.InDelta(t, 4, r.NeutralPrice, 1e-9, "the median of 2, 4 and 8")

	r = plan(t, []Bed{free}, []Window{window(0, 5, 1)}, nil)
	assert.InDelta(t, 1, r.NeutralPrice, 1e-9)
}

// A bed without a price takes part at the median of the others, here of 2, 4, 7
// and 100: (4+7)/2 = 5.50 a kilogram. One hour of 20 kg an hour goes to the dear
// bed; of its own 40 kg, lost with a chance of a half, 110 are at risk.
func TestABedWithoutAPriceCompetesAtTheMedian(t *testing.T) {
	free := bed(5, 1, 40, 0, 20)
	free.PricePerKg, free.Likelihood = unit.None[float64](), 0.5
	beds := []Bed{bed(1, 9, 20, 2, 20), bed(2, 9, 20, 7, 20), bed(3, 9, 20, 4, 20), bed(4, 1, 20, 100, 20), free}
	r := plan(t, beds, []Window{window(0, 1, 1), window(2, 9, 1)}, nil)
	assert.InDelta(t, 5.5, r.NeutralPrice, 1e-9)
	require.Len(t, r.GivenUp, 1)
	assert.Equal(t, int64(5), r.GivenUp[0].BedID)
	assert.InDelta(t, 0.5*40*5.5, r.LostValue, 1e-9)

	// Alone against a bed at 2 that is as likely to go, the unpriced is worth 2 too; against 2 and 12, 7.
	free.Likelihood = 1
	r = plan(t, []Bed{bed(1, 1, 20, 2, 20), bed(2, 9, 20, 12, 20), free}, []Window{window(0, 1, 1), window(2, 9, 1)}, nil)
	assert.Equal(t, int64(5), r.Turns[0].Lifts[0].BedID)
	assert.InDelta(t, 20*2+20*7, r.LostValue, 1e-9, "the bed at 2, and what one hour left of the unpriced")
}

func TestLikelihoodDecidesBetweenEquals(t *testing.T) {
	unlikely, likely := bed(1, 2, 40, 2, 20), bed(2, 2, 40, 2, 20)
	unlikely.Likelihood, likely.Likelihood = 0.3, 0.8
	r := plan(t, []Bed{unlikely, likely}, []Window{window(0, 2, 1)}, nil)
	assert.Equal(t, int64(2), r.Turns[0].Lifts[0].BedID)
	assert.InDelta(t, 0.3*40*2, r.LostValue, 1e-9)
}

func TestPlanRefusesNonsense(t *testing.T) {
	nan := math.NaN()
	good := bed(1, 5, 10, 1, 20)
	for want, change := range map[string]func(*Bed){
		"likelihood":          func(b *Bed) { b.Likelihood = nan },
		"kilograms and price": func(b *Bed) { b.Kg = unit.Some(nan) },
		"not -1":              func(b *Bed) { b.KgPerHour = -1 },
		"deadline":            func(b *Bed) { b.Deadline = time.Time{} },
	} {
		b := good
		change(&b)
		_, err := Plan([]Bed{b}, nil, nil)
		assert.ErrorContains(t, err, want)
		assert.ErrorContains(t, err, "bed 1")
	}
	_, err := Plan(nil, []Window{window(3, 2, 1)}, nil)
	assert.ErrorContains(t, err, "window 1")
	_, err = Plan(nil, []Window{window(2, 3, nan)}, nil)
	assert.ErrorContains(t, err, "window 1")
	_, err = Plan(nil, nil, []Room{{ID: 4, FreeKg: unit.Some(-3.0)}})
	assert.ErrorContains(t, err, "room 4")
	r, err := Plan(nil, nil, nil)
	require.NoError(t, err)
	assert.Zero(t, r.LostValue)
}
