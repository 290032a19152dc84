// Package hardiness follows how cold one organ of a standing crop can get and
// how much of it has been lost, hour by hour. It is arithmetic alone: no clock,
// no files, no chance. Two runs over the same hours, one straight through and
// one saved and resumed at any hour, give the same bits.
//
// The organ's tolerance is LT50, the tissue temperature at which half of it
// dies. It moves towards a stationary level that depends on temperature
// (the idea of Leinonen, Repo & Hänninen 1995, Annals of Botany 76), in two
// stages: cold above freezing first, light frost second (Kohn & Levitt 1965,
// Plant Physiology 40, from memory); it is lost quickly in warmth (Rapacz 2002,
// Annals of Botany 89:543). The numbers are the catalogue's.
package hardiness

import (
	"errors"
	"fmt"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// Errors of a step that must not be taken. They are never answered with a
// guess: an unknown temperature is not a warm one.
var (
	ErrTissueUnknown = errors.New("tissue temperature is not a number")
	ErrParams        = errors.New("width of the injury curve must be above 0 K")
)

// Params is what a step needs to know of the crop. Build it with ForSold or
// ForCrown; Offset may then be set.
type Params struct {
	Hardening crop.Hardening
	Margin    unit.Kelvins           // market quality goes this much above LT50
	Chill     unit.Maybe[crop.Chill] // injury above freezing
	// Offset moves the temperature that kills, not the state: one ensemble
	// member's draw plus what a farm's findings have taught. Negative is hardier.
	Offset unit.Kelvins
}

// ForSold is the organ that is sold.
func ForSold(c crop.Crop) Params {
	return Params{Hardening: c.Sold, Margin: c.Margin, Chill: c.Chill}
}

// ForCrown is the organ that grows again in spring, false where there is none.
// It has no market quality of its own: quality equals survival.
func ForCrown(c crop.Crop) (Params, bool) {
	h, ok := c.Regrow.Get()
	return Params{Hardening: h}, ok
}

// State is everything that must survive a restart for one organ of one bed.
type State struct {
	LT50     unit.Celsius `json:"lt50_c"`   // book value, before Params.Offset
	Survival float64      `json:"survival"` // share alive, 0..1
	Quality  float64      `json:"quality"`  // share still fit to sell, 0..1, never above Survival

	EventKill   float64 `json:"event_kill"`   // deepest kill of the running frost, 0..1
	EventDamage float64 `json:"event_damage"` // the same for quality
	WarmHours   int     `json:"warm_hours"`   // hours in a row above 0 °C, up to EventEnds

	ChillHours  float64 `json:"chill_hours"`  // h below the chilling threshold, less recovery
	ChillDamage float64 `json:"chill_damage"` // deepest damage of the running cold spell, 0..1
}

// Start is a whole crop at a tolerance. A tolerance outside what the crop can
// have is brought to the nearest end; one that is no number counts as
// unhardened, which is the safe side.
func Start(h crop.Hardening, tolerance unit.Celsius) State {
	if !tolerance.Finite() {
		tolerance = h.Unhardened
	}
	return State{LT50: within(h, tolerance), Survival: 1, Quality: 1, WarmHours: EventEnds}
}

// Tolerance is LT50 as this member or farm has it, with the offset.
func (p Params) Tolerance(s State) unit.Celsius { return s.LT50.Plus(p.Offset) }

func within(h crop.Hardening, t unit.Celsius) unit.Celsius {
	return min(h.Unhardened, max(h.Full, t))
}

// Step is one hour at a tissue temperature. The frost is judged with the
// tolerance the organ brought into the hour; then the tolerance moves. On an
// error the state comes back as it was.
func Step(p Params, s State, tissue unit.Celsius) (State, error) {
	if !tissue.Finite() {
		return s, fmt.Errorf("hardiness step: %w", ErrTissueUnknown)
	}
	if !(p.Hardening.Width > 0) {
		return s, fmt.Errorf("hardiness step: %w", ErrParams)
	}
	s.LT50 = within(p.Hardening, s.LT50)
	if tissue < 0 {
		s = freeze(p, s, float64(tissue))
	} else {
		s = thaw(s, tissue)
	}
	if c, ok := p.Chill.Get(); ok {
		s = chill(c, s, tissue)
	}
	s.LT50 = within(p.Hardening, s.LT50+harden(p.Hardening, s.LT50, tissue))
	return s, nil
}
