package microclimate

import (
	"math"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// FieldBias is what a grower's minimum thermometer has taught about one field:
// how much warmer (positive) or colder its night minimum runs than the forecast,
// separately for clear calm nights and all others. A plain value; the zero value
// has learned nothing, and setting it back to that is the reset.
type FieldBias struct {
	Calm  Learned `json:"calm"`
	Other Learned `json:"other"`
}

// Learned is an exponentially weighted mean of differences in K and the weight
// of the nights behind it.
type Learned struct {
	MeanK  float64 `json:"mean_k"`
	Weight float64 `json:"weight"`
	Nights int64   `json:"nights"`
}

const (
	// memoryShare is what is left of a night's weight after the next night of the
	// same kind: about ten nights count (own default).
	memoryShare = 0.9
	// priorNights is how many nights the prior counts for (own default).
	priorNights = 3.0
	// A night counts as clear and calm below these means (own default).
	calmCloud   = 0.4
	calmWind2MS = 2.0
	// A reading that differs by more than this is a misread thermometer (own default).
	wildestK = 15.0
)

// ClearCalm tells whether an hour has the sky and air of a radiation night.
// Where either is not known it is not.
func ClearCalm(h weather.Hour) bool {
	cloud, okC := h.Cloud.Get()
	wind, okW := h.Wind.Get()
	return okC && okW && cloud < calmCloud && wind10ToWind2*wind < calmWind2MS
}

// Update learns from one night: what the thermometer read, what was forecast,
// and whether it was clear and calm. A difference that is not a number or is
// beyond 15 K is not learned from; ok is then false.
func (b *FieldBias) Update(read, forecast unit.Celsius, clearCalm bool) (ok bool) {
	d := float64(read - forecast)
	if !(math.Abs(d) <= wildestK) {
		return false
	}
	l := &b.Other
	if clearCalm {
		l = &b.Calm
	}
	w := l.Weight * memoryShare
	l.MeanK = (w*l.MeanK + d) / (w + 1)
	l.Weight = w + 1
	l.Nights++
	return true
}

// BiasFor is what to add to the forecast minimum of a night: the learned mean
// shrunk to the prior. The prior is the field's low spot, given as a positive
// number of kelvins colder; on other nights air mixes and half of it is the prior.
func (b *FieldBias) BiasFor(clearCalm bool, lowSpot unit.Kelvins) unit.Kelvins {
	l, prior := b.Other, -float64(lowSpot)/2
	if clearCalm {
		l, prior = b.Calm, -float64(lowSpot)
	}
	return unit.Kelvins((l.Weight*l.MeanK + priorNights*prior) / (l.Weight + priorNights))
}
