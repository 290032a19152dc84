package hardiness

import (
	"math"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// Corner temperatures of the stationary level, °C, own defaults: hardening in
// cold begins below about 10 °C; frost of a few degrees is needed for the last
// of it (Kohn & Levitt 1965, from memory).
const (
	hardensBelow = 10.0
	firstStage   = 2.0
	secondStage  = -2.0
	stopsAt      = -6.0 // hard frozen: nothing moves any more
)

// gateShare is how much of the first stage must be gained before the second is
// open. Own default for the two stages of Kohn & Levitt 1965.
const gateShare = 0.6

// Loss of hardiness in warmth, own defaults shaped after Rapacz 2002: none at
// or below 5 °C, the catalogue's rate at 20 °C, no faster than fastestLoss.
const (
	lossAbove   = 5.0
	lossSpan    = 15.0
	lossPower   = 1.5
	fastestLoss = 1.5 // 1/day
)

// harden is how far LT50 moves in an hour at tissue temperature t.
func harden(h crop.Hardening, lt50, t unit.Celsius) unit.Celsius {
	goal := stationary(h, float64(t))
	if gate := gateShare * float64(h.Unhardened-h.Cold); float64(h.Unhardened-lt50) < gate {
		goal = max(goal, float64(h.Cold))
	}
	gap := goal - float64(lt50)
	if gap < 0 {
		return unit.Celsius(h.Rate / 24 * thawed(float64(t)) * gap)
	}
	return unit.Celsius(lossRate(h, float64(t)) / 24 * gap)
}

// stationary is the LT50 that a long time at t leads to.
func stationary(h crop.Hardening, t float64) float64 {
	l0, l1, lm := float64(h.Unhardened), float64(h.Cold), float64(h.Full)
	switch {
	case t >= hardensBelow:
		return l0
	case t >= firstStage:
		return l0 + (l1-l0)*(hardensBelow-t)/(hardensBelow-firstStage)
	case t > secondStage:
		return l1 + (lm-l1)*(firstStage-t)/(firstStage-secondStage)
	}
	return lm
}

// thawed is the share of its pace a plant hardens at: full down to −2 °C, none
// from −6 °C on, for a hard-frozen plant does not harden.
func thawed(t float64) float64 {
	return min(1, max(0, (t-stopsAt)/(secondStage-stopsAt)))
}

// lossRate is the pace at which hardiness goes, 1/day.
func lossRate(h crop.Hardening, t float64) float64 {
	if t <= lossAbove {
		return 0
	}
	return min(fastestLoss, h.LossRate*math.Pow((t-lossAbove)/lossSpan, lossPower))
}
