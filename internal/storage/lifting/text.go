package lifting

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"winterstand/internal/unit"
)

// Reader is who the plan is written for: names, units, clock and language.
type Reader struct {
	Units    unit.System
	Currency string
	When     func(time.Time) string // "Mon 9 Nov 8:00 am CST"
	Bed      func(id int64) string
	Room     func(id int64) string
	// Say fills a phrase of English in another language; nil: English.
	Say func(key string, args map[string]string) string
}

// English holds every phrase of the plan; names in braces are filled in.
var English = map[string]string{
	"window":       "{start} to {end}, {people}:",
	"person":       "1 person",
	"people":       "{n} people",
	"idle":         "  nothing to lift",
	"lift":         "  {n}. {bed}: {kg}, {hours} person-hours",
	"lift_into":    "  {n}. {bed}: {kg}, {hours} person-hours, into {rooms}",
	"spare":        "  {hours} person-hours left over",
	"hour":         "  One more person-hour here would save {value} ({kg} of {bed}).",
	"given_up":     "Given up:",
	"lost":         "  {bed}: {kg}, {value} at risk. {why}",
	"no-window":    "No workable crew time is left before its deadline.",
	"hours":        "The hours go to beds worth more.",
	"room":         "There is no room for it in a store that suits.",
	"no-weight":    "  {bed}: not planned, its standing weight is not known.",
	"no-risk":      "Nothing would be lost by leaving it.",
	"tote":         "One more tote ({tote}) of room in {room} would save {value} ({kg} of {bed}).",
	"full":         "{room} is full with this plan.",
	"all":          "Every bed with a deadline can be lifted in time.",
	"nothing":      "No bed has a deadline.",
	"neutral":      "No price is given for {beds}: {price} is used in its place.",
	"no_rooms":     "No store is recorded, so room is taken to be enough.",
	"not_best":     "A simple rule was used: this may not be the best plan.",
	"money":        "{amount} {currency}",
	"money_per_kg": "{amount} {currency} per kg",
}

var brace = regexp.MustCompile(`\{([a-z_]+)\}`)

func (r Reader) say(key string, pairs ...string) string {
	args := map[string]string{}
	for i := 0; i+1 < len(pairs); i += 2 {
		args[pairs[i]] = pairs[i+1]
	}
	if r.Say != nil {
		return r.Say(key, args)
	}
	return brace.ReplaceAllStringFunc(English[key], func(m string) string { return args[m[1:len(m)-1]] })
}

func (r Reader) money(v float64) string {
	return r.say("money", "amount", fmt.Sprintf("%.0f", v), "currency", r.Currency)
}

func hours(v float64) string {
	if v < 0.05 {
		return "under 0.1"
	}
	return fmt.Sprintf("%.1f", v)
}

// Text is the plan in plain lines, for mail.
func (p Result) Text(r Reader) string {
	lines := p.windows(r)
	lines = append(lines, p.lost(r)...)
	lines = append(lines, p.stores(r)...)
	lines = append(lines, p.caveats(r)...)
	return strings.Join(lines, "\n") + "\n"
}

func (p Result) windows(r Reader) []string {
	var out []string
	for _, t := range p.Turns {
		people := r.say("people", "n", fmt.Sprintf("%g", t.People))
		if t.People == 1 {
			people = r.say("person")
		}
		out = append(out, r.say("window", "start", r.When(t.Start), "end", r.When(t.End), "people", people))
		for n, l := range t.Lifts {
			out = append(out, r.lift(n+1, l))
		}
		if len(t.Lifts) == 0 {
			out = append(out, r.say("idle"))
		} else if t.FreePersonHours > 0.05 {
			out = append(out, r.say("spare", "hours", hours(t.FreePersonHours)))
		}
		if s := t.HourSaves; s.Value > 0 {
			out = append(out, r.say("hour", "value", r.money(s.Value), "kg", r.Units.Mass(s.Kg), "bed", r.Bed(s.BedID)))
		}
	}
	return out
}

func (r Reader) lift(n int, l Lift) string {
	pairs := []string{"n", fmt.Sprint(n), "bed", r.Bed(l.BedID), "kg", r.Units.Mass(l.Kg), "hours", hours(l.PersonHours)}
	if len(l.Into) == 0 {
		return r.say("lift", pairs...)
	}
	var rooms []string
	for _, p := range l.Into {
		name := r.Room(p.RoomID)
		if len(l.Into) > 1 {
			name += " (" + r.Units.Mass(p.Kg) + ")"
		}
		rooms = append(rooms, name)
	}
	return r.say("lift_into", append(pairs, "rooms", strings.Join(rooms, ", "))...)
}

func (p Result) lost(r Reader) []string {
	var out []string
	for _, g := range p.GivenUp {
		kg, known := g.Kg.Get()
		if !known {
			out = append(out, r.say(string(NoWeight), "bed", r.Bed(g.BedID)))
			continue
		}
		out = append(out, r.say("lost", "bed", r.Bed(g.BedID), "kg", r.Units.Mass(kg), "value", r.money(g.Value), "why", r.say(string(g.Why))))
	}
	switch {
	case len(out) > 0:
		return append([]string{r.say("given_up")}, out...)
	case p.lifts() == 0:
		return []string{r.say("nothing")}
	}
	return []string{r.say("all")}
}

func (p Result) lifts() (n int) {
	for _, t := range p.Turns {
		n += len(t.Lifts)
	}
	return n
}

func (p Result) stores(r Reader) []string {
	var out []string
	for _, u := range p.Rooms {
		switch s := u.ToteSaves; {
		case s.Value > 0:
			out = append(out, r.say("tote", "tote", r.Units.Mass(ToteKg), "room", r.Room(u.RoomID),
				"value", r.money(s.Value), "kg", r.Units.Mass(s.Kg), "bed", r.Bed(s.BedID)))
		case u.Full:
			out = append(out, r.say("full", "room", r.Room(u.RoomID)))
		}
	}
	return out
}

func (p Result) caveats(r Reader) []string {
	var out []string
	if len(p.Unpriced) > 0 {
		var beds []string
		for _, id := range p.Unpriced {
			beds = append(beds, r.Bed(id))
		}
		price := r.say("money_per_kg", "amount", fmt.Sprintf("%.2f", p.NeutralPrice), "currency", r.Currency)
		out = append(out, r.say("neutral", "beds", strings.Join(beds, ", "), "price", price))
	}
	if p.RoomsUnknown {
		out = append(out, r.say("no_rooms"))
	}
	if !p.Exact {
		out = append(out, r.say("not_best"))
	}
	return out
}
