package farm

import (
	"encoding/json"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// State of a bed.
type State string

// The four states of the contract.
const (
	Holds         State = "holds"
	HarvestBefore State = "harvest_before"
	TooLate       State = "too_late"
	Unknown       State = "unknown"
)

// Cause is what would end the bed.
type Cause string

// Causes.
const (
	LeafFreeze     Cause = "leaf_freeze"     // above-ground tissue colder than it stands
	CrownFreeze    Cause = "crown_freeze"    // the part that regrows
	ShoulderFreeze Cause = "shoulder_freeze" // the top of a root freezes in the soil
	Chilling       Cause = "chilling"        // injury above freezing
	GroundFrozen   Cause = "ground_frozen"   // cannot be dug afterwards; the root itself may hold
)

// Verdict is the judgement of one bed on one forecast. It is stored whole with
// every notice, so that what was known can be read later.
type Verdict struct {
	State  State                 `json:"state"`
	AsOf   time.Time             `json:"as_of"`
	Organ  crop.Organ            `json:"organ"`
	Cause  Cause                 `json:"cause,omitempty"`
	Night  Day                   `json:"night,omitempty"` // the night that ends it: named by the evening it begins
	Danger unit.Maybe[time.Time] `json:"danger,omitzero"` // hour at which the share of members reaches C/L

	HarvestBefore unit.Maybe[time.Time] `json:"harvest_before,omitzero"`
	LastWindow    unit.Maybe[Window]    `json:"last_window,omitzero"`
	Windows       []Window              `json:"windows,omitempty"` // workable ones from now to the horizon

	// Likelihood is the share of members whose cumulative loss up to and
	// including the night exceeds LossShare; without a night, the largest within
	// the horizon. Missing: could not be judged.
	Likelihood unit.Maybe[float64] `json:"likelihood,omitzero"`
	LossShare  float64             `json:"loss_share"`
	CostLoss   float64             `json:"cost_loss"`

	AirLow        unit.Maybe[unit.Celsius] `json:"air_low_c,omitzero"`     // median of the members, at the bed, in that night
	AirLowP10     unit.Maybe[unit.Celsius] `json:"air_low_p10_c,omitzero"` // 1 in 10 members is colder
	AirLowAt      unit.Maybe[time.Time]    `json:"air_low_at,omitzero"`
	TissueLow     unit.Maybe[unit.Celsius] `json:"tissue_low_c,omitzero"`     // median, of the organ judged
	TissueLowP10  unit.Maybe[unit.Celsius] `json:"tissue_low_p10_c,omitzero"` // 1 in 10 members is colder
	Tolerance     unit.Maybe[unit.Celsius] `json:"tolerance_c,omitzero"`      // tissue temperature at which loss begins to matter, now
	ToleranceThen unit.Maybe[unit.Celsius] `json:"tolerance_then_c,omitzero"` // the same on that night, median
	Snow          unit.Maybe[float64]      `json:"snow_cm,omitzero"`          // on the bed now
	Frozen        unit.Maybe[float64]      `json:"frozen_cm,omitzero"`        // crust now
	Cover         string                   `json:"cover"`
	MulchCm       float64                  `json:"mulch_cm"`

	SoldLeft    float64             `json:"sold_left"`              // share of market quality left by the model, now
	Regrowth    unit.Maybe[float64] `json:"regrowth,omitzero"`      // share of members in which the crown lives to the horizon
	AlreadyLost bool                `json:"already_lost,omitempty"` // a night that has passed took it, by the model
	NothingLeft bool                `json:"nothing_left,omitempty"` // by the grower's own finding

	Nights []NightRisk `json:"nights,omitempty"`
	Helps  []Help      `json:"helps,omitempty"`

	DefaultStart bool      `json:"default_start,omitempty"` // hardening began from a default: little history
	HistoryHours int       `json:"history_hours"`           // known of the last two weeks
	Blind        Blindness `json:"blind,omitempty"`         // why, when unknown
	Missing      []Gap     `json:"gaps,omitempty"`          // what was missing, when unknown
	Members      int       `json:"members"`
	Spread       string    `json:"spread,omitempty"` // where the spread of the members comes from: dressed, percentiles, ensemble

	Forecast Basis `json:"forecast"`
}

// Basis is the forecast that a verdict rests on.
type Basis struct {
	ID     int64     `json:"id"`
	Source string    `json:"source"`
	Place  string    `json:"place"`
	Issued time.Time `json:"issued"`
	Credit string    `json:"credit"`
}

// Window is a stretch of hours in which the bed can be harvested.
type Window struct {
	Start time.Time `json:"start"`
	End   time.Time `json:"end"`
}

// Hours of the window.
func (w Window) Hours() float64 { return w.End.Sub(w.Start).Hours() }

// NightRisk is one coming night.
type NightRisk struct {
	Night      Day          `json:"night"`
	Likelihood float64      `json:"likelihood"` // cumulative up to and including it
	AirLow     unit.Celsius `json:"air_low_c"`  // median at the bed
	AirP10     unit.Celsius `json:"air_low_p10_c"`
	AirLowAt   time.Time    `json:"air_low_at"`
	TissueP10  unit.Celsius `json:"tissue_p10_c"`
	TissueLow  unit.Celsius `json:"tissue_low_c"` // median of the organ judged
	Tolerance  unit.Celsius `json:"tolerance_c"`  // median, at the hour of TissueLow
}

// Help is a protection tried on the same members.
type Help struct {
	Cover      string  `json:"cover,omitempty"`
	MulchCm    float64 `json:"mulch_cm,omitempty"`
	Likelihood float64 `json:"likelihood"` // of loss by the same night, with it
	Holds      bool    `json:"holds"`      // brings every night under C/L
}

// UnmarshalJSON reads verdicts, and those that were kept when what was missing
// was a list of sentences.
func (v *Verdict) UnmarshalJSON(body []byte) error {
	type current Verdict
	var read struct {
		current
		Said []string `json:"missing"`
	}
	if err := json.Unmarshal(body, &read); err != nil {
		return err
	}
	*v = Verdict(read.current)
	for _, text := range read.Said {
		v.Missing = append(v.Missing, Gap{What: GapSaid, Says: text})
	}
	return nil
}
