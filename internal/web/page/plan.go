package page

import (
	"fmt"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/service/plan"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/unit"
)

var planScreen = Screen{Path: "/plan", Name: "plan.title", Front: true, Routes: func(s *Site, r chi.Router) {
	r.Get("/plan", s.signed(showPlan))
}}

// planPage is the lifting plan, window by window.
type planPage struct {
	Now      string
	Head     string // what it comes to, in a sentence
	Worth    []Fact
	Windows  []planWindow
	GivenUp  []planLoss
	Limits   []string
	Beds     []planBed
	Caveats  []string
	Cautions []string
}

type planWindow struct {
	People, Word string
	When         string
	Lifts        []planLift
	Spare, Hour  string
}

type planLift struct {
	BedID                   int64
	Bed, Crop               string
	Mass, Hours, Into, Save string
}

type planLoss struct {
	BedID                 int64
	Bed, Mass, Worth, Why string
}

type planBed struct {
	ID                             int64
	Name, Crop, Before, Chance, Kg string
}

func showPlan(v *visit) error {
	p, err := v.Plans.Plan(v.ctx(), v.farm.ID)
	if err != nil {
		return err
	}
	v.speaker = v.at(p.Zone)
	w := planWriter{v, p}
	d := planPage{Now: v.speaker.When(v.now), GivenUp: w.losses(), Limits: w.limits(), Caveats: w.caveats()}
	d.Head = w.head(d.GivenUp)
	for _, t := range p.Busy() {
		d.Windows = append(d.Windows, w.window(t))
	}
	for _, b := range p.Beds {
		d.Beds = append(d.Beds, planBed{ID: b.BedID, Name: b.Name, Crop: v.cropName(b.Crop, b.Variety), Before: v.at(b.Zone).When(b.Deadline),
			Chance: v.speaker.Chance(b.Likelihood), Kg: w.mass(b.StandingKg)})
	}
	if len(d.Beds) > 0 {
		d.Worth = []Fact{{v.say("plan.saved"), w.money(p.SavedValue)}, {v.say("plan.given"), w.money(p.LostValue)}}
		d.Cautions = []string{v.say("plan.caution"), v.say("caution.crew")}
	}
	return v.show("plan", v.say("plan.title"), d)
}

// planWriter says a plan in the visitor's words.
type planWriter struct {
	v *visit
	p plan.Plan
}

func (w planWriter) head(lost []planLoss) string {
	switch {
	case len(w.p.Beds) == 0:
		return w.v.say(w.p.NothingKey())
	case len(lost) == 0:
		return w.v.say("plan.all")
	}
	return w.v.say("plan.given_up") + " " + strings.Join(lostBeds(lost), ", ")
}

func lostBeds(lost []planLoss) (out []string) {
	for _, l := range lost {
		out = append(out, strings.TrimSpace(l.Bed+" "+l.Mass))
	}
	return out
}

func (w planWriter) money(amount float64) string {
	return w.v.say("plan.money", "amount", fmt.Sprintf("%.0f", amount), "currency", w.p.Currency)
}

func (w planWriter) mass(kg unit.Maybe[float64]) string {
	if m, ok := kg.Get(); ok {
		return w.v.speaker.Units.Mass(m)
	}
	return w.v.say("store.unknown_weight")
}

func (w planWriter) window(t lifting.Turn) planWindow {
	v := w.v
	word := "plan.people_word"
	if t.People == 1 {
		word = "plan.person_word"
	}
	out := planWindow{People: fmt.Sprintf("%g", t.People), Word: v.say(word), When: v.speaker.When(t.Start) + " – " + v.speaker.Clock(t.End)}
	for _, x := range t.Lifts {
		lift := planLift{BedID: x.BedID, Bed: w.p.BedName(x.BedID), Crop: w.crop(x.BedID), Mass: v.speaker.Units.Mass(x.Kg),
			Hours: v.say("plan.work", "hours", fmt.Sprintf("%.1f", x.PersonHours)), Into: w.into(x.Into), Save: w.money(x.Value)}
		out.Lifts = append(out.Lifts, lift)
	}
	if t.FreePersonHours > 0.05 {
		out.Spare = capital(strings.TrimSpace(v.say("plan.spare", "hours", fmt.Sprintf("%.1f", t.FreePersonHours))))
	}
	if s := t.HourSaves; s.Value > 0 {
		out.Hour = capital(strings.TrimSpace(v.say("plan.hour", "value", w.money(s.Value), "kg", v.speaker.Units.Mass(s.Kg), "bed", w.p.BedName(s.BedID))))
	}
	return out
}

func (w planWriter) crop(bedID int64) string {
	for _, b := range w.p.Beds {
		if b.BedID == bedID {
			return w.v.cropName(b.Crop, b.Variety)
		}
	}
	return ""
}

func (w planWriter) into(places []lifting.Placing) string {
	var out []string
	for _, p := range places {
		name := w.p.RoomName(p.RoomID)
		if len(places) > 1 {
			name += " (" + w.v.speaker.Units.Mass(p.Kg) + ")"
		}
		out = append(out, name)
	}
	return strings.Join(out, ", ")
}

func (w planWriter) losses() []planLoss {
	var out []planLoss
	for _, g := range w.p.GivenUp {
		l := planLoss{BedID: g.BedID, Bed: w.p.BedTitle(w.v.speaker.Language, g.BedID)}
		if kg, ok := g.Kg.Get(); ok {
			l.Mass, l.Worth, l.Why = w.v.speaker.Units.Mass(kg), w.money(g.Value), w.v.say("plan."+string(g.Why))
		} else {
			l.Why = capital(strings.TrimSpace(w.v.say("plan.no-weight", "bed", l.Bed)))
		}
		out = append(out, l)
	}
	return out
}

func (w planWriter) limits() []string {
	var out []string
	for _, u := range w.p.Rooms {
		switch s := u.ToteSaves; {
		case s.Value > 0:
			out = append(out, w.v.say("plan.tote", "tote", w.v.speaker.Units.Mass(lifting.ToteKg), "room", w.p.RoomName(u.RoomID),
				"value", w.money(s.Value), "kg", w.v.speaker.Units.Mass(s.Kg), "bed", w.p.BedName(s.BedID)))
		case u.Full:
			out = append(out, w.v.say("plan.full", "room", w.p.RoomName(u.RoomID)))
		}
	}
	return out
}

func (w planWriter) caveats() []string {
	var out []string
	if len(w.p.Unpriced) > 0 {
		var beds []string
		for _, id := range w.p.Unpriced {
			beds = append(beds, w.p.BedName(id))
		}
		price := w.v.say("plan.money_per_kg", "amount", fmt.Sprintf("%.2f", w.p.NeutralPrice), "currency", w.p.Currency)
		out = append(out, w.v.say("plan.neutral", "beds", strings.Join(beds, ", "), "price", price))
	}
	if w.p.RoomsUnknown && len(w.p.Beds) > 0 {
		out = append(out, w.v.say("plan.no_rooms"))
	}
	if !w.p.Exact {
		out = append(out, w.v.say("plan.not_best"))
	}
	return append(out, w.p.Caveats(w.v.speaker)...)
}

// date of a day that may lie far ahead: with its year where that is not plain.
func (v *visit) date(t time.Time) string {
	text := v.speaker.Date(t)
	if gap := t.Sub(v.now); gap > farOff || gap < -farOff {
		text += " " + t.In(v.speaker.Zone).Format("2006")
	}
	return text
}

// farOff is how far a date must lie for its year to be said.
const farOff = 300 * 24 * time.Hour
