package verdict

import (
	"math"
	"time"

	"winterstand/internal/science/bed"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Verified is what past issues at a place have taught of its forecast night
// minima, by lead day: how far what came followed what was issued, and how much
// was left over. It is a straight line on departures from what is usual at the
// time of the year, as in model output statistics (Glahn & Lowry 1972, J. Appl.
// Meteor. 11:1203, from memory), held to the forecast itself and the usual error
// while there is little to learn from. The zero value has learned nothing.
type Verified struct {
	Leads [len(leadSigma)]LeadMoments `json:"leads"` // by lead day, the first is day 1
}

// LeadMoments sums departures from the usual: issued X, observed Y, K.
type LeadMoments struct {
	N  float64 `json:"n"`
	X  float64 `json:"x"`
	Y  float64 `json:"y"`
	XX float64 `json:"xx"`
	XY float64 `json:"xy"`
	YY float64 `json:"yy"`
}

// How much the untaught forecast counts, own defaults: as much as a month of
// nights, whose departures vary by about 5 K.
const (
	priorNights   = 30
	priorVariance = 25 // K²
)

// Learn takes in one night that has passed. lead, in days, begins at 1; values that
// are no temperature are not learned from.
func (v *Verified) Learn(lead int, issued, observed, usual unit.Celsius) {
	x, y := float64(issued-usual), float64(observed-usual)
	if lead < 1 || lead > len(v.Leads) || !unit.Celsius(x+y).Finite() {
		return
	}
	m := &v.Leads[lead-1]
	m.N++
	m.X, m.Y = m.X+x, m.Y+y
	m.XX, m.XY, m.YY = m.XX+x*x, m.XY+x*y, m.YY+y*y
}

// line is intercept and slope that fit best, drawn to 0 and 1 by the prior.
func (m *LeadMoments) line() (a, b float64) {
	// Normal equations of Σ(y−a−bx)² + p·a² + p·v·(b−1)².
	n, xx, xy := m.N+priorNights, m.XX+priorNights*priorVariance, m.XY+priorNights*priorVariance
	det := n*xx - m.X*m.X
	return (m.Y*xx - m.X*xy) / det, (n*xy - m.X*m.Y) / det
}

// Expect is the minimum to expect where a low was issued so many days ahead.
func (v *Verified) Expect(lead int, issued, usual unit.Celsius) unit.Celsius {
	a, b := v.Leads[v.place(lead)].line()
	return usual + unit.Celsius(a+b*float64(issued-usual))
}

// Ratio is the error left over so many days ahead, as a share of the usual one.
func (v *Verified) Ratio(lead int) float64 {
	i := v.place(lead)
	m := &v.Leads[i]
	a, b := m.line()
	left := m.YY + m.N*a*a + b*b*m.XX - 2*a*m.Y - 2*b*m.XY + 2*a*b*m.X
	usual := leadSigma[i] * leadSigma[i]
	return math.Sqrt((max(0, left) + priorNights*usual) / (m.N + priorNights) / usual)
}

func (v *Verified) place(lead int) int { return min(max(lead, 1), len(v.Leads)) - 1 }

// What is learned may make the forecast no surer than this, and moves it by no
// more; own defaults, because a service's own last analysis stands in for what
// happened where there is no station.
const (
	leastRatio = 0.6
	mostRatio  = 1.5
	mostShift  = 2.0 // K
)

// Apply lets members depart from the forecast as its past issues did: shifted by
// their mean error and as wide as what was left over, within bounds. Without a
// climate to depart from the usual is the forecast itself.
func (v *Verified) Apply(members []bed.Member, hours []weather.Hour, now time.Time) {
	for h := range hours {
		lead := int(ahead(hours[h], now)/24) + 1
		ratio := unit.Kelvins(min(max(v.Ratio(lead), leastRatio), mostRatio))
		shift := min(max(v.Expect(lead, 0, 0).Minus(0), -mostShift), mostShift)
		for m := range members {
			members[m].Error[h] = members[m].Error[h]*ratio + shift
		}
	}
}
