package page

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/keeping"
	"winterstand/internal/larder"
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

type storeLot struct {
	ID                             int64
	Crop, Container, Left, Since   string
	Early, By, Clock, Share, Notes string
	Past                           bool
}

func showStores(v *visit) error {
	rooms, err := v.Larder.Stores(v.ctx(), v.farm.ID)
	if err != nil {
		return err
	}
	var out []storeRoom
	for _, r := range rooms {
		out = append(out, v.storeRoom(r))
	}
	return v.show("stores", v.say("store.title"), out)
}

func (v *visit) storeRoom(r larder.Room) storeRoom {
	out := storeRoom{ID: r.ID, Name: r.Name, Facts: v.storeFacts(r)}
	for _, n := range r.Advice {
		text := larder.Say(v.speaker, n, func(key string) string { return v.cropName(key, "") })
		if n.Warning {
			out.Warnings = append(out.Warnings, text)
		} else {
			out.Advice = append(out.Advice, text)
		}
	}
	for _, l := range r.Lots {
		out.Lots = append(out.Lots, v.storeLot(l, r))
	}
	out.Fine = len(r.Advice) == 0 && len(r.Lots) > 0
	return out
}

func (v *visit) storeFacts(r larder.Room) []Fact {
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

func (v *visit) storeLot(l larder.Lot, r larder.Room) storeLot {
	out := storeLot{ID: l.ID, Crop: v.cropName(l.Crop, l.Variety), Container: v.say("container." + l.Container),
		Left: v.speaker.Units.Mass(l.Kg), Since: v.date(l.HarvestedAt), By: v.say("store.unknown"), Early: "–", Clock: "–"}
	if l.Why != "" {
		return out
	}
	out.Early, out.By, out.Past = v.date(l.UseBy.P10), v.date(l.UseBy.P50), l.UseBy.P50.Before(v.now)
	out.Clock = v.say("clock." + clockPhrase(l, r))
	if used, ok := lifeUsed(l, v.now); ok {
		out.Share = v.say("store.aged", "share", percentOf(used))
	}
	var notes []string
	for _, n := range l.UseBy.Notes {
		if !advised(r.Advice, n.Code) {
			notes = append(notes, larder.Say(v.speaker, n, func(key string) string { return v.cropName(key, "") }))
		}
	}
	out.Notes = strings.Join(notes, " ")
	return out
}

// advised: the same stands among the advice on the room.
func advised(advice []keeping.Note, code keeping.Code) bool {
	for _, n := range advice {
		if n.Code == code {
			return true
		}
	}
	return false
}

// lifeUsed is the share of the way from harvest to the middle date.
func lifeUsed(l larder.Lot, now time.Time) (float64, bool) {
	life := l.Life()
	if life <= 0 {
		return 1, false
	}
	return math.Max(0, math.Min(1, float64(now.Sub(l.HarvestedAt))/float64(life))), true
}

// clockPhrase names what ends a lot.
func clockPhrase(l larder.Lot, r larder.Room) string {
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
