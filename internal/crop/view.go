package crop

import "winterstand/internal/unit"

// View is a crop as JSON gives it: every quantity with its unit in the name,
// temperatures of the tissue in °C, a missing value left out.
type View struct {
	Name            string             `json:"name"`
	Aliases         []string           `json:"aliases,omitempty"`
	Titles          map[string]string  `json:"titles"`
	Family          string             `json:"family"`
	Organ           Organ              `json:"organ"`
	HeightCm        float64            `json:"height_cm"`
	LowestCm        float64            `json:"lowest_cm"`
	Sold            HardeningView      `json:"sold"`
	QualityMarginK  float64            `json:"quality_margin_k"`
	SpreadK         float64            `json:"spread_k"`
	Chill           *ChillView         `json:"chill,omitempty"`
	Regrow          *HardeningView     `json:"regrow,omitempty"`
	CrownDepthCm    *float64           `json:"crown_depth_cm,omitempty"`
	FreezesC        *float64           `json:"freezes_c,omitempty"`
	RootDepthCm     *float64           `json:"root_depth_cm,omitempty"`
	ShoulderDepthCm *float64           `json:"shoulder_depth_cm,omitempty"`
	Lists           map[string]float64 `json:"lists,omitempty"`
	ListsBasis      Basis              `json:"lists_basis,omitempty"`
	Cautions        []Caution          `json:"cautions,omitempty"`
	Figures         []Figure           `json:"figures"`
	Evidence        []Evidence         `json:"evidence,omitempty"`
	Sources         map[string]string  `json:"sources"`
	Conflict        string             `json:"conflict,omitempty"`
	Remark          string             `json:"remark,omitempty"`
	Review          bool               `json:"review"`
}

// HardeningView is Hardening as JSON gives it.
type HardeningView struct {
	UnhardenedC    float64 `json:"unhardened_c"`
	ColdC          float64 `json:"cold_c"`
	FullC          float64 `json:"full_c"`
	RatePerDay     float64 `json:"rate_per_day"`
	LossRatePerDay float64 `json:"loss_rate_per_day"`
	WidthK         float64 `json:"width_k"`
}

// ChillView is Chill as JSON gives it.
type ChillView struct {
	BelowC float64 `json:"below_c"`
	Hours  float64 `json:"hours"`
}

// View gives the crop for JSON.
func (c Crop) View() View {
	v := View{
		Name: c.Name, Aliases: c.Aliases, Titles: c.Titles, Family: c.Family, Organ: c.Organ,
		HeightCm: c.HeightCm, LowestCm: c.LowCm, Sold: c.Sold.view(),
		QualityMarginK: float64(c.Margin), SpreadK: float64(c.Spread),
		FreezesC: celsius(c.Freezes), Lists: c.Lists.view(), ListsBasis: c.Lists.Basis,
		Cautions: c.Cautions, Figures: c.Figures, Evidence: c.Evidence, Sources: c.Sources,
		Conflict: c.Conflict, Remark: c.Remark, Review: c.Review,
	}
	if h, ok := c.Regrow.Get(); ok {
		w := h.view()
		v.Regrow, v.CrownDepthCm = &w, &c.CrownCm
	}
	if ch, ok := c.Chill.Get(); ok {
		v.Chill = &ChillView{float64(ch.Below), ch.Hours}
	}
	if !c.Organ.AboveGround() {
		v.RootDepthCm, v.ShoulderDepthCm = &c.DepthCm, &c.ShoulderCm
	}
	return v
}

func (h Hardening) view() HardeningView {
	return HardeningView{
		UnhardenedC: float64(h.Unhardened), ColdC: float64(h.Cold), FullC: float64(h.Full),
		RatePerDay: h.Rate, LossRatePerDay: h.LossRate, WidthK: float64(h.Width),
	}
}

func (l Lists) view() map[string]float64 {
	m := map[string]float64{}
	for name, t := range map[string]unit.Maybe[unit.Celsius]{
		"start_c": l.Start, "kill_unhardened_c": l.KillUnhardened, "kill_hardened_c": l.KillHardened,
	} {
		if v, ok := t.Get(); ok {
			m[name] = float64(v)
		}
	}
	return m
}

func celsius(m unit.Maybe[unit.Celsius]) *float64 {
	v, ok := m.Get()
	if !ok {
		return nil
	}
	f := float64(v)
	return &f
}
