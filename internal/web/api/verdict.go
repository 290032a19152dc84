package api

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Verdict says by when a bed must be out, and why.
type Verdict struct {
	State         farm.State               `json:"state" enum:"holds,harvest_before,too_late,unknown" doc:"unknown: it could not be judged; take it as a warning, not as all clear"`
	HarvestBefore unit.Maybe[time.Time]    `json:"harvest_before,omitzero" doc:"End of the last hours in which it can be harvested before the night that ends it"`
	Likelihood    unit.Maybe[float64]      `json:"likelihood" doc:"Likelihood of losing more than loss_share of it by the end of that night; null when unknown"`
	Reason        string                   `json:"reason" doc:"Why, in the farm's language and units"`
	Tolerance     unit.Maybe[unit.Celsius] `json:"tolerance_c" doc:"Tissue temperature at which loss begins to matter, now, °C"`
	AsOf          unit.Maybe[time.Time]    `json:"as_of" doc:"When it was judged; null: not yet"`
	Issued        unit.Maybe[time.Time]    `json:"forecast_issued_at" doc:"Issue of the forecast it rests on; null: there was none"`

	Night         farm.Day                 `json:"night,omitempty" doc:"The night that ends it, named by its evening"`
	Cause         farm.Cause               `json:"cause,omitempty"`
	DangerAt      unit.Maybe[time.Time]    `json:"danger_at,omitzero" doc:"Hour at which the likelihood reaches cost_loss"`
	LastWindow    unit.Maybe[farm.Window]  `json:"last_window,omitzero" doc:"The last hours in which it can be harvested before"`
	AirLow        unit.Maybe[unit.Celsius] `json:"air_low_c,omitzero" doc:"Middle of the forecast lows of that night at the bed, °C"`
	AirLowP10     unit.Maybe[unit.Celsius] `json:"air_low_p10_c,omitzero" doc:"The cold end of those lows: one in ten is colder, °C"`
	TissueLow     unit.Maybe[unit.Celsius] `json:"tissue_low_c,omitzero" doc:"The same for the part judged, °C"`
	ToleranceThen unit.Maybe[unit.Celsius] `json:"tolerance_then_c,omitzero" doc:"What it stands by then, °C"`
	Snow          unit.Maybe[float64]      `json:"snow_cm,omitzero" doc:"Snow on the bed now, cm"`
	Frozen        unit.Maybe[float64]      `json:"frozen_cm,omitzero" doc:"Frozen crust now, cm"`
	LossShare     unit.Maybe[float64]      `json:"loss_share,omitzero" doc:"Share whose loss counts"`
	CostLoss      unit.Maybe[float64]      `json:"cost_loss,omitzero" doc:"Likelihood above which it pays to act"`
	Regrowth      unit.Maybe[float64]      `json:"regrowth,omitzero" doc:"Likelihood that the crown lives to the end of the forecast"`
	AlreadyLost   bool                     `json:"already_lost,omitempty" doc:"A night that has passed took it, by the model"`
	Helps         []farm.Help              `json:"helps,omitempty" doc:"What else would help"`
	Nights        []farm.NightRisk         `json:"nights,omitempty" doc:"The coming nights"`
	Windows       []farm.Window            `json:"windows,omitempty" doc:"Hours in which it can be harvested"`
	Blind         farm.Blindness           `json:"blind,omitempty" enum:"not_judged,none,old,future,holes" doc:"Why it cannot be judged, when unknown: not yet, no forecast, one too old, one stamped in the future, one with holes"`
	Missing       []farm.Gap               `json:"missing,omitempty" doc:"What was missing to judge it"`
	DefaultStart  bool                     `json:"default_start,omitempty" doc:"Little history: hardening began from a default"`
	Source        string                   `json:"forecast_source,omitempty"`
	Credit        string                   `json:"credit,omitempty" doc:"What the forecast's licence asks to be shown"`
}

func (s *service) verdictView(v farm.Verdict, f farm.Farm, zone *time.Location) Verdict {
	return Verdict{
		State: v.State, HarvestBefore: utc(v.HarvestBefore), Likelihood: v.Likelihood, Reason: s.Reason(v, f, zone),
		Tolerance: v.Tolerance, AsOf: known(v.AsOf), Issued: known(v.Forecast.Issued),
		Night: v.Night, Cause: v.Cause, DangerAt: utc(v.Danger), LastWindow: v.LastWindow,
		AirLow: v.AirLow, AirLowP10: v.AirLowP10, TissueLow: v.TissueLow, ToleranceThen: v.ToleranceThen, Snow: v.Snow, Frozen: v.Frozen,
		LossShare: positive(v.LossShare), CostLoss: positive(v.CostLoss), Regrowth: v.Regrowth, AlreadyLost: v.AlreadyLost,
		Helps: v.Helps, Nights: v.Nights, Windows: v.Windows, Blind: v.Blind, Missing: v.Missing, DefaultStart: v.DefaultStart,
		Source: v.Forecast.Source, Credit: v.Forecast.Credit,
	}
}

// brief leaves out what would make a list heavy.
func (v Verdict) brief() Verdict {
	v.Helps, v.Nights, v.Windows = nil, nil, nil
	return v
}

// positive is a share that was set; a bed that was never judged has none.
func positive(share float64) unit.Maybe[float64] {
	if share == 0 {
		return unit.None[float64]()
	}
	return unit.Some(share)
}

func known(t time.Time) unit.Maybe[time.Time] {
	if t.IsZero() {
		return unit.None[time.Time]()
	}
	return unit.Some(t.UTC())
}
