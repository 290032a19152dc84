package deadline

import (
	"math"

	"winterstand/internal/unit"
)

// Verified is what past issues at a place have taught of its forecast night
// minima, by lead day: how far what came followed what was issued, and how much
// was left over. It is a straight line on departures from what is usual at the
// time of the year, as in model output statistics (Glahn & Lowry 1972, J. Appl.
// Meteor. 11:1203, from memory), held to the forecast itself and the usual error
// while there is little to learn from. The zero value has learned nothing.
type Verified struct{ leads [len(leadSigma)]leadMoments }

// leadMoments sums departures from the usual: issued x, observed y, K.
type leadMoments struct{ n, x, y, xx, xy, yy float64 }

// How much the untaught forecast counts, own defaults: as much as a month of
// nights, whose departures vary by about 5 K.
const (
	priorNights   = 30
	priorVariance = 25 // K²
)

// Learn takes in one night that has passed. leadDays begins at 1; values that
// are no temperature are not learned from.
func (v *Verified) Learn(leadDays int, issued, observed, usual unit.Celsius) {
	x, y := float64(issued-usual), float64(observed-usual)
	if leadDays < 1 || leadDays > len(v.leads) || !unit.Celsius(x+y).Finite() {
		return
	}
	m := &v.leads[leadDays-1]
	m.n++
	m.x, m.y = m.x+x, m.y+y
	m.xx, m.xy, m.yy = m.xx+x*x, m.xy+x*y, m.yy+y*y
}

// line is intercept and slope that fit best, drawn to 0 and 1 by the prior.
func (m *leadMoments) line() (a, b float64) {
	// Normal equations of Σ(y−a−bx)² + p·a² + p·v·(b−1)².
	n, xx, xy := m.n+priorNights, m.xx+priorNights*priorVariance, m.xy+priorNights*priorVariance
	det := n*xx - m.x*m.x
	return (m.y*xx - m.x*xy) / det, (n*xy - m.x*m.y) / det
}

// Expect is the minimum to expect where a low was issued so many days ahead.
func (v *Verified) Expect(leadDays int, issued, usual unit.Celsius) unit.Celsius {
	a, b := v.leads[v.place(leadDays)].line()
	return usual + unit.Celsius(a+b*float64(issued-usual))
}

// Ratio is the error left over so many days ahead, as a share of the usual one.
func (v *Verified) Ratio(leadDays int) float64 {
	i := v.place(leadDays)
	m := &v.leads[i]
	a, b := m.line()
	left := m.yy + m.n*a*a + b*b*m.xx - 2*a*m.y - 2*b*m.xy + 2*a*b*m.x
	usual := leadSigma[i] * leadSigma[i]
	return math.Sqrt((max(0, left) + priorNights*usual) / (m.n + priorNights) / usual)
}

func (v *Verified) place(leadDays int) int { return min(max(leadDays, 1), len(v.leads)) - 1 }
