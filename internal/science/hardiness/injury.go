package hardiness

import (
	"math"

	"winterstand/internal/unit"
)

// EventEnds is how many hours in a row above 0 °C end a frost. Own default.
const EventEnds = 3

// costPerKill is what a freeze and thaw takes from LT50, K for the whole organ
// killed. About 5 K went in two cycles in wheat (Gusta & Fowler 1977, Canadian
// Journal of Plant Science 57). It is paid as the frost deepens, so a long frost
// at LT50 takes more than the half that a single hour takes, up to nine tenths:
// the lists' "temperature at which it dies" lies nearer that.
const costPerKill = 2.5

// clip is where the logistic is cut to none and all: 5 and 95 %.
const clip = 0.05

// odds of the clipped ends: ln(0.95/0.05).
var clipLogit = math.Log((1 - clip) / clip)

// Injury is the share injured at a tissue temperature where half is injured at
// half, with width b: 1/(1+exp((t−half)/b)), the logistic of FROSTOL (Bergjord
// et al. 2008, European Journal of Agronomy 28:321), 0 below 5 % and 1 above
// 95 %. At and above 0 °C it is 0.
func Injury(t, half unit.Celsius, b unit.Kelvins) float64 {
	if t >= 0 {
		return 0
	}
	x := float64(t-half) / float64(b)
	switch {
	case x > clipLogit:
		return 0
	case x < -clipLogit:
		return 1
	}
	return 1 / (1 + math.Exp(x))
}

// freeze is an hour below 0 °C: only a frost deeper than the event so far
// takes more, so a frost that lasts all winter can be scored night by night.
func freeze(p Params, s State, t float64) State {
	s.WarmHours = 0
	half, tissue, b := p.Tolerance(s), unit.Celsius(t), p.Hardening.Width
	if d := Injury(tissue, half.Plus(p.Margin), b); d > s.EventDamage {
		s.Quality = deepen(s.Quality, s.EventDamage, d)
		s.EventDamage = d
	}
	if k := Injury(tissue, half, b); k > s.EventKill {
		s.Survival = deepen(s.Survival, s.EventKill, k)
		s.LT50 += unit.Celsius(costPerKill * (k - s.EventKill))
		s.EventKill = k
	}
	return s
}

// deepen is what is left when an event that took `from` comes to take `to`.
func deepen(share, from, to float64) float64 { return share * (1 - to) / (1 - from) }

// thaw is an hour at or above 0 °C. Exactly 0 °C neither injures nor ends.
func thaw(s State, t unit.Celsius) State {
	if t <= 0 {
		s.WarmHours = 0
		return s
	}
	if s.WarmHours < EventEnds {
		s.WarmHours++
	}
	if s.WarmHours == EventEnds {
		s.EventKill, s.EventDamage = 0, 0
	}
	return s
}
