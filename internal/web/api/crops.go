package api

import (
	"context"
	"net/http"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// Crop is one entry of the catalogue with the evidence for every figure.
type Crop struct {
	Name           string                   `json:"name"`
	Aliases        []string                 `json:"aliases"`
	Title          map[string]string        `json:"title" doc:"What people call it, by language"`
	Family         string                   `json:"family"`
	Organ          crop.Organ               `json:"organ" doc:"What is sold"`
	HeightCm       float64                  `json:"height_cm"`
	Unhardened     unit.Celsius             `json:"tolerance_unhardened_c" doc:"Tissue temperature at which half of it dies before it has hardened, °C"`
	Hardened       unit.Celsius             `json:"tolerance_hardened_c" doc:"The same when it is fully hardened, °C"`
	Margin         unit.Kelvins             `json:"quality_margin_k" doc:"Market quality goes this much above it, K"`
	Spread         unit.Kelvins             `json:"spread_k" doc:"How much plants, farms and lists differ (standard deviation), K"`
	Freezes        unit.Maybe[unit.Celsius] `json:"freezes_c,omitzero" doc:"Roots and bulbs: the tissue freezes here, °C"`
	Regrows        bool                     `json:"regrows" doc:"The crown may live when the leaves are lost"`
	ListStart      unit.Maybe[unit.Celsius] `json:"list_damage_c,omitzero" doc:"Growers' lists, in their own terms: first damage, °C"`
	ListUnhardened unit.Maybe[unit.Celsius] `json:"list_kill_unhardened_c,omitzero" doc:"Growers' lists: loss before hardening, °C"`
	ListHardened   unit.Maybe[unit.Celsius] `json:"list_kill_hardened_c,omitzero" doc:"Growers' lists: loss when hardened, °C"`
	Figures        []crop.Figure            `json:"figures"`
	Sources        map[string]string        `json:"sources" doc:"Sources in full, by the short code that figures and evidence name"`
	Evidence       []crop.Evidence          `json:"evidence"`
	Conflict       string                   `json:"conflict,omitempty" doc:"Where sources disagree, both sides"`
	Remark         string                   `json:"remark,omitempty"`
	Review         bool                     `json:"review" doc:"Rests on one list from memory: look twice"`
}

func cropView(c crop.Crop) Crop {
	return Crop{
		Name: c.Name, Aliases: full(c.Aliases), Title: c.Titles, Family: c.Family, Organ: c.Organ, HeightCm: c.HeightCm,
		Unhardened: c.Sold.Unhardened, Hardened: c.Sold.Full, Margin: c.Margin, Spread: c.Spread, Freezes: c.Freezes,
		Regrows: c.Regrow.Known(), ListStart: c.Lists.Start, ListUnhardened: c.Lists.KillUnhardened, ListHardened: c.Lists.KillHardened,
		Figures: full(c.Figures), Sources: c.Sources, Evidence: full(c.Evidence), Conflict: c.Conflict, Remark: c.Remark, Review: c.Review,
	}
}

func (s *service) cropRoutes() {
	handle(s, op(http.MethodGet, "/v1/crops", "list-crops", "crops", "The catalogue with thresholds and sources"), s.listCrops)
	handle(s, op(http.MethodGet, "/v1/crops/{name}", "get-crop", "crops", "One crop, by its key or another name"), s.getCrop)
}

func (s *service) listCrops(context.Context, int64, *struct{}) (*plain[List[Crop]], error) {
	out := List[Crop]{Items: []Crop{}}
	for _, c := range s.Commands.Catalogue.All() {
		out.Items = append(out.Items, cropView(c))
	}
	return &plain[List[Crop]]{out}, nil
}

type byName struct {
	Name string `path:"name" maxLength:"80" doc:"Key or other name of a crop"`
}

func (s *service) getCrop(_ context.Context, _ int64, in *byName) (*plain[Crop], error) {
	c, err := s.Commands.Catalogue.Find(in.Name)
	if err != nil {
		return nil, problem(http.StatusNotFound, because("no_crop"))
	}
	return &plain[Crop]{cropView(c)}, nil
}
