package page

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
)

var storesScreen = Screen{Path: "/stores", Name: "store.title", Routes: func(s *Site, r chi.Router) {
	r.Get("/stores", s.signed(showStores))
}}

// storeRoom is a room with its lots, clocks and advice.
type storeRoom struct {
	ID       int64
	Name     string
	Facts    []Fact
	Warnings []string
	Advice   []string
	Lots     []storeLot
	Fine     bool
}

// storeLot is a lot with the time that it has left, in the margin.
type storeLot struct {
	ID           int64
	Left         Left
	Past         bool // its middle date is over
	Unknown      bool // nothing is known of its life
	Crop, Mass   string
	Dates, Facts string
	Notes        string
	by           time.Time
}

func showStores(v *visit) error {
	rooms, err := v.Plans.Stores(v.ctx(), v.farm.ID)
	if err != nil {
		return err
	}
	var out []storeRoom
	for _, r := range rooms {
		out = append(out, v.storeRoom(r))
	}
	return v.show("stores", v.say("store.title"), out)
}

func (v *visit) storeRoom(r plan.Room) storeRoom {
	out := storeRoom{ID: r.ID, Name: r.Name, Facts: v.storeFacts(r), Fine: len(r.Advice) == 0 && len(r.Lots) > 0}
	for _, n := range r.Advice {
		if n.Warning {
			out.Warnings = append(out.Warnings, v.note(n))
		} else {
			out.Advice = append(out.Advice, v.note(n))
		}
	}
	for _, l := range r.Lots {
		out.Lots = append(out.Lots, v.storeLot(l, r))
	}
	slices.SortStableFunc(out.Lots, func(a, b storeLot) int { return a.by.Compare(b.by) })
	return out
}

// note is what the science says of a lot or room, in the visitor's words.
func (v *visit) note(n keeping.Note) string {
	return plan.Say(v.speaker, n, func(key string) string { return v.cropName(key, "") })
}

func (v *visit) storeFacts(r plan.Room) []Fact {
	u := v.speaker.Units
	air := v.say("store.air_plain", "temperature", u.Temperature(r.Temperature))
	if h, ok := r.Humidity.Get(); ok {
		air = v.say("store.air", "temperature", u.Temperature(r.Temperature), "humidity", percentOf(h))
	}
	holds := v.say("store.holds_plain", "kg", u.Mass(r.Kg))
	if c, ok := r.CapacityKg.Get(); ok {
		holds = v.say("store.holds", "kg", u.Mass(r.Kg), "capacity", u.Mass(c))
	}
	if free, ok := r.FreeKg.Get(); ok {
		holds += ", " + v.say("store.free", "kg", u.Mass(free))
	}
	facts := []Fact{{v.say("label.room_kind"), v.say("room_kind." + r.Kind)}, {v.say("label.temperature"), air}, {v.say("label.kept"), holds}}
	if r.HeatW >= 0.5 {
		heat := v.say("store.heat", "watts", fmt.Sprintf("%.0f", math.Round(r.HeatW)))
		if len(r.HeatLess) > 0 {
			heat += " " + v.say("store.heat_without", "crops", v.cropNames(r.HeatLess))
		}
		facts = append(facts, Fact{v.say("store.warmth"), heat})
	}
	return facts
}

func (v *visit) cropNames(keys []string) string {
	var out []string
	for _, k := range keys {
		out = append(out, v.cropName(k, ""))
	}
	return strings.Join(out, ", ")
}

func (v *visit) storeLot(l plan.Lot, r plan.Room) storeLot {
	out := storeLot{ID: l.ID, Crop: v.cropName(l.Crop, l.Variety), Mass: v.speaker.Units.Mass(l.Kg), by: l.UseBy.P50,
		Facts: v.say("container."+l.Container) + " · " + v.say("lots.harvested", "when", v.date(l.HarvestedAt))}
	if l.Why != "" {
		out.Unknown, out.Dates = true, v.say("store.by_unknown")
		return out
	}
	by := v.date(l.UseBy.P50)
	out.Left, out.Past = v.daysLeft(l.UseBy.P50.Sub(v.now)), l.UseBy.P50.Before(v.now)
	out.Dates = v.say("store.by", "date", by, "clock", v.say("clock."+clockPhrase(l, r)))
	if l.UseBy.P10.After(v.now) {
		out.Dates += " " + v.say("store.first_from", "date", v.date(l.UseBy.P10))
	} else {
		out.Dates += " " + v.say("store.first_now")
	}
	var notes []string
	for _, n := range l.UseBy.Notes {
		if !slices.ContainsFunc(r.Advice, func(a keeping.Note) bool { return a.Code == n.Code && a.Crop == n.Crop }) {
			notes = append(notes, v.note(n))
		}
	}
	out.Notes = strings.Join(notes, " ")
	return out
}

// daysLeft is a time that is left, in whole days.
func (v *visit) daysLeft(d time.Duration) Left {
	days := max(0, int(math.Floor(d.Hours()/24)))
	if days == 1 {
		return Left{"1", v.say("store.day")}
	}
	return Left{strconv.Itoa(days), v.say("store.days")}
}

// clockPhrase names what ends a lot.
func clockPhrase(l plan.Lot, r plan.Room) string {
	switch {
	case l.UseBy.Clock == keeping.Drying:
		return "water"
	case l.UseBy.Clock == keeping.Frozen:
		return "frozen"
	case l.UseBy.Clock == keeping.Thawed:
		return "thawed"
	case r.Kind == farm.Ripening && l.UseBy.Clock == keeping.Ageing:
		return "ripening"
	}
	return "ageing"
}
