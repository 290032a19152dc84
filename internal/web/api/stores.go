package api

import (
	"context"
	"net/http"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/unit"
)

// NoteTeller says a note on a lot or room in a farm's language and units.
type NoteTeller func(n keeping.Note, f farm.Farm) string

// Store is a room with what lies in it.
type Store struct {
	Room   Room                `json:"room"`
	Kg     float64             `json:"kg" doc:"What lies in it, kg"`
	FreeKg unit.Maybe[float64] `json:"free_kg" doc:"Room left, kg; null: its capacity is not known"`
	HeatW  float64             `json:"heat_w" doc:"Warmth that the lots give off, W"`
	NoHeat []string            `json:"crops_without_heat_figure" doc:"Not in heat_w, because it is not known"`
	Advice []Advice            `json:"advice" doc:"What does not fit, warnings first"`
	Lots   []StoredLot         `json:"lots"`
}

// StoredLot is a lot with its clocks.
type StoredLot struct {
	Lot     Lot               `json:"lot"`
	UseBy   unit.Maybe[UseBy] `json:"use_by" doc:"null: nothing is known of how long it keeps, see unknown"`
	State   keeping.State     `json:"state"`
	Cured   bool              `json:"cured" doc:"It needs no curing, or has had it"`
	Unknown string            `json:"unknown,omitempty" doc:"Why its life cannot be told"`
	Notes   []Advice          `json:"notes"`
}

// UseBy is when a lot ends if its room stays as it is.
type UseBy struct {
	P10   time.Time     `json:"p10" doc:"Nine lots of ten are good until then"`
	P50   time.Time     `json:"p50" doc:"Half are"`
	P90   time.Time     `json:"p90" doc:"One of ten is"`
	Clock keeping.Clock `json:"because" enum:"ageing,drying,frozen,thawed" doc:"The clock that ends it"`
}

// Advice is a note with its sentence.
type Advice struct {
	Code    keeping.Code             `json:"code"`
	Warning bool                     `json:"warning" doc:"Something is at risk now"`
	Text    string                   `json:"text" doc:"In the farm's language and units"`
	Crop    string                   `json:"crop,omitempty"`
	Others  []string                 `json:"other_crops,omitempty"`
	Lots    []int64                  `json:"lots,omitempty"`
	Temp    unit.Maybe[unit.Celsius] `json:"temperature_c,omitzero" doc:"°C"`
	Limit   unit.Maybe[unit.Celsius] `json:"limit_c,omitzero" doc:"°C"`
	Share   unit.Maybe[float64]      `json:"share,omitzero" doc:"Humidity, or how full; a fraction"`
}

func (s *service) storeRoutes() {
	handle(s, op(http.MethodGet, "/v1/stores", "list-stores", "store", "Rooms with their lots, use-by dates and advice"), s.listStores)
}

func (s *service) listStores(ctx context.Context, farmID int64, _ *struct{}) (*plain[List[Store]], error) {
	f, err := s.Commands.Store.Farm(ctx, farmID)
	if err != nil {
		return nil, err
	}
	rooms, err := s.Books.Stores(ctx, farmID)
	out := List[Store]{Items: []Store{}}
	for _, r := range rooms {
		out.Items = append(out.Items, s.storeView(r, f))
	}
	return &plain[List[Store]]{out}, err
}

func (s *service) storeView(r plan.Room, f farm.Farm) Store {
	out := Store{Room: roomView(r.Room), Kg: r.Kg, FreeKg: r.FreeKg, HeatW: r.HeatW, NoHeat: full(r.HeatLess), Advice: s.advice(r.Advice, f), Lots: []StoredLot{}}
	for _, l := range r.Lots {
		v := StoredLot{Lot: lotView(l.Lot), State: l.State, Cured: l.Cured, Notes: s.advice(l.UseBy.Notes, f)}
		if l.Why != "" {
			v.Unknown = s.TellNote(keeping.Note{Code: l.Why, Crop: l.Crop, Lots: []int64{l.ID}}, f)
		} else {
			v.UseBy = unit.Some(UseBy{P10: l.UseBy.P10.UTC(), P50: l.UseBy.P50.UTC(), P90: l.UseBy.P90.UTC(), Clock: l.UseBy.Clock})
		}
		out.Lots = append(out.Lots, v)
	}
	return out
}

func (s *service) advice(notes []keeping.Note, f farm.Farm) []Advice {
	out := []Advice{}
	for _, n := range notes {
		out = append(out, Advice{Code: n.Code, Warning: n.Warning, Text: s.TellNote(n, f), Crop: n.Crop, Others: n.Other, Lots: n.Lots, Temp: n.Temp, Limit: n.Limit, Share: n.Share})
	}
	return out
}
