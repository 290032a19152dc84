package plan

import (
	"fmt"
	"strings"

	"winterstand/internal/message/phrase"
	"winterstand/internal/storage/lifting"
)

// writer writes a plan out for one reader.
type writer struct {
	Plan
	to phrase.Speaker
}

func (w writer) say(key string, args phrase.Args) string { return w.to.Say("plan."+key, args) }

func (w writer) bed(id int64) string { return w.BedTitle(w.to.Language, id) }

func (w writer) beds(ids []int64) string {
	var names []string
	for _, id := range ids {
		names = append(names, w.bed(id))
	}
	return strings.Join(names, ", ")
}

func (w writer) money(v float64) string {
	return w.say("money", phrase.Args{"amount": fmt.Sprintf("%.0f", v), "currency": w.Currency})
}

func (w writer) people(n float64) string {
	if n == 1 {
		return w.say("person", nil)
	}
	return w.say("people", phrase.Args{"n": fmt.Sprintf("%g", n)})
}

func hours(v float64) string { return fmt.Sprintf("%.1f", v) }

// saving is what more hours or room would save, for the braces of a phrase.
func (w writer) saving(s lifting.Saving) phrase.Args {
	return phrase.Args{"value": w.money(s.Value), "kg": w.to.Units.Mass(s.Kg), "bed": w.bed(s.BedID)}
}

// turn is one window with what is lifted in it.
func (w writer) turn(t lifting.Turn) []string {
	out := []string{w.say("window", phrase.Args{"start": w.to.When(t.Start), "end": w.to.When(t.End), "people": w.people(t.People)})}
	for n, l := range t.Lifts {
		out = append(out, w.lift(n+1, l))
	}
	if t.FreePersonHours > trifle {
		out = append(out, w.say("spare", phrase.Args{"hours": hours(t.FreePersonHours)}))
	}
	if t.HourSaves.Value > 0 {
		out = append(out, w.say("hour", w.saving(t.HourSaves)))
	}
	return out
}

func (w writer) lift(n int, l lifting.Lift) string {
	args := phrase.Args{"n": fmt.Sprint(n), "bed": w.bed(l.BedID), "kg": w.to.Units.Mass(l.Kg), "hours": hours(l.PersonHours)}
	if len(l.Into) == 0 {
		return w.say("lift", args)
	}
	var rooms []string
	for _, p := range l.Into {
		name := w.RoomName(p.RoomID)
		if len(l.Into) > 1 {
			name += " (" + w.to.Units.Mass(p.Kg) + ")"
		}
		rooms = append(rooms, name)
	}
	args["rooms"] = strings.Join(rooms, ", ")
	return w.say("lift_into", args)
}

// lost is what the plan gives up, or that it gives up nothing.
func (w writer) lost() []string {
	var out []string
	for _, g := range w.GivenUp {
		out = append(out, w.givenUp(g))
	}
	switch {
	case len(out) > 0:
		return append([]string{w.say("given_up", nil)}, out...)
	case len(w.Turns) == 0:
		return []string{w.to.Say(w.NothingKey(), nil)}
	}
	return []string{w.say("all", nil)}
}

// NothingKey is the phrase of a plan without beds: while some cannot be judged,
// nobody knows that none has a deadline.
func (p Plan) NothingKey() string {
	if len(p.Unseen) > 0 {
		return "plan.nothing_seen"
	}
	return "plan.nothing"
}

func (w writer) givenUp(g lifting.GivenUp) string {
	kg, known := g.Kg.Get()
	if !known {
		return w.say(string(lifting.NoWeight), phrase.Args{"bed": w.bed(g.BedID)})
	}
	return w.say("lost", phrase.Args{"bed": w.bed(g.BedID), "kg": w.to.Units.Mass(kg), "value": w.money(g.Value), "why": w.say(string(g.Why), nil)})
}

// rooms are those that are full, with what one more tote of room would save.
func (w writer) rooms() []string {
	var out []string
	for _, u := range w.Rooms {
		switch s := u.ToteSaves; {
		case s.Value > 0:
			args := w.saving(s)
			args["tote"], args["room"] = w.to.Units.Mass(lifting.ToteKg), w.RoomName(u.RoomID)
			out = append(out, w.say("tote", args))
		case u.Full:
			out = append(out, w.say("full", phrase.Args{"room": w.RoomName(u.RoomID)}))
		}
	}
	return out
}

// taken is what the reckoning took for want of a price or a room.
func (w writer) taken() []string {
	var out []string
	if len(w.Unpriced) > 0 {
		price := w.say("money_per_kg", phrase.Args{"amount": fmt.Sprintf("%.2f", w.NeutralPrice), "currency": w.Currency})
		out = append(out, w.say("neutral", phrase.Args{"beds": w.beds(w.Unpriced), "price": price}))
	}
	if w.RoomsUnknown && len(w.Beds) > 0 {
		out = append(out, w.say("no_rooms", nil))
	}
	if !w.Exact {
		out = append(out, w.say("not_best", nil))
	}
	return out
}
