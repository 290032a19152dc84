package keeping

import (
	"fmt"
	"math"
)

// z90 is the standard normal quantile of 0.9.
const z90 = 1.2815515655446004

// span is a lognormal life: its median in days and the spread of its logarithm.
type span struct {
	days  float64
	sigma float64
}

func (l LifeAt) median() float64 { return math.Sqrt(l.LowD * l.HighD) }

func (l LifeAt) span() span {
	return span{days: l.median(), sigma: math.Log(l.HighD/l.LowD) / (2 * z90)}
}

// rate is respiration at a temperature, in mg CO₂ per kg and hour where the
// table has it, else a number in proportion by Q10. Either way it never falls
// as it gets warmer, for ageing does not.
func (e *Entry) rate(c float64) float64 {
	r, q10 := e.Respiration, e.general.Q10.Value
	if r == nil {
		return math.Pow(q10, c/10)
	}
	last := len(r.AtC) - 1
	if c <= r.AtC[0] {
		return r.Mg[0] * math.Pow(q10, (c-r.AtC[0])/10)
	}
	top := r.Mg[0]
	for i := 1; i <= last; i++ {
		below := top
		top = math.Max(top, r.Mg[i])
		if c <= r.AtC[i] {
			share := (c - r.AtC[i-1]) / (r.AtC[i] - r.AtC[i-1])
			return below * math.Pow(top/below, share)
		}
	}
	return top * math.Pow(q10, (c-r.AtC[last])/10)
}

// HeatMilliwatts is the warmth that a kilogram gives off at a temperature, in
// mW/kg, and whether respiration is known: 2.97 mW for each mg CO₂ per hour
// (10.7 J per mg, the oxidation of glucose).
func (e *Entry) HeatMilliwatts(c float64) (mw float64, known bool) {
	if e.Respiration == nil {
		return 0, false
	}
	return 2.97 * e.rate(c), true
}

// freshLife is the life in store at a temperature. Between two published
// temperatures the logarithm of life follows the logarithm of respiration;
// warmer than the last it falls as respiration rises; colder than the first
// nothing is gained. Under a chilling limit it halves again and again.
func (e *Entry) freshLife(c float64) span {
	life := e.Life
	first, last := life[0], life[len(life)-1]
	chill := 1.0
	if e.Chill != nil && c < e.Chill.BelowC {
		chill = math.Exp2((c - e.Chill.BelowC) / e.general.ChillHalving.Value)
		c = e.Chill.BelowC
	}
	var s span
	switch {
	case c <= first.AtC:
		s = first.span()
	case c >= last.AtC:
		s = last.span()
		s.days *= e.rate(last.AtC) / e.rate(c)
	default:
		s = e.between(c)
	}
	s.days *= chill
	return s
}

func (e *Entry) between(c float64) span {
	i := 1
	for e.Life[i].AtC < c {
		i++
	}
	low, high := e.Life[i-1], e.Life[i]
	share := math.Log(e.rate(c)/e.rate(low.AtC)) / math.Log(e.rate(high.AtC)/e.rate(low.AtC))
	if math.IsNaN(share) { // respiration level between the two
		share = (c - low.AtC) / (high.AtC - low.AtC)
	}
	a, b := low.span(), high.span()
	return span{
		days:  a.days * math.Pow(b.days/a.days, share),
		sigma: a.sigma + share*(b.sigma-a.sigma),
	}
}

// ripeningLife is how long sound green fruit goes on ripening.
func (e *Entry) ripeningLife(c float64) span {
	s := e.Ripening.span()
	if e.Chill != nil && c < e.Chill.BelowC {
		s.days *= math.Exp2((c - e.Chill.BelowC) / e.general.ChillHalving.Value)
		c = e.Chill.BelowC
	}
	s.days *= math.Pow(e.general.Q10.Value, (e.Ripening.AtC-c)/10)
	return s
}

// frozenLife is the life in a freezer; colder than the figure gains nothing.
func (e *Entry) frozenLife(c float64) span {
	s := e.Freezer.span()
	if c > e.Freezer.AtC {
		s.days *= math.Pow(e.general.FrozenQ10.Value, (e.Freezer.AtC-c)/10)
	}
	return s
}

// promptLife is what is left for produce that froze and thawed.
func (e *Entry) promptLife(c float64) span {
	warm := math.Max(c, e.general.PromptAt.Value)
	days := e.general.PromptDays.Value * math.Pow(e.general.Q10.Value, (e.general.PromptAt.Value-warm)/10)
	return span{days: days, sigma: math.Log(2) / (2 * z90)}
}

func degrees(c float64) string { return fmt.Sprintf("%gc", c) }
