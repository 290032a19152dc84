package microclimate

import "math"

// medium is what a node is made of, as its heat content per volume sees it.
type medium struct {
	thawed float64 // J m⁻³ K⁻¹ above the freezing point
	frozen float64 // J m⁻³ K⁻¹ below it
	latent float64 // J/m³ of all its water
	point  float64 // °C, at or below 0: where freezing begins
	power  float64 // the unfrozen share below the point is (point/T)^power
}

// heat is the heat content in J/m³ relative to the freezing point, thawed, and
// its slope. At the point itself the slope is that of the asked side.
func (m *medium) heat(t float64, below bool) (h, slope float64) {
	if t > m.point || (t == m.point && !below) {
		return m.thawed * (t - m.point), m.thawed
	}
	if m.latent == 0 {
		return m.frozen * (t - m.point), m.frozen
	}
	u := math.Exp(m.power * math.Log(m.point/t))
	return m.frozen*(t-m.point) - m.latent*(1-u), m.frozen + m.latent*m.power*u/(-t)
}

// unfrozen is the share of the water that is liquid.
func (m *medium) unfrozen(t float64) float64 {
	if t >= m.point || m.latent == 0 {
		return 1
	}
	return math.Exp(m.power * math.Log(m.point/t))
}

// node is one layer of a column, top first.
type node struct {
	medium
	dz float64 // m
	k  float64 // W/m/K
	t  float64 // °C
	h0 float64 // heat content at the start of the step, J/m³
	g  float64 // conductance to the node below, W/m²/K
	lo float64 // forward sweep: share of the next node
	r  float64 // forward sweep: right side
}

// Limits of the iteration: the residual flux that ends it, and how often at most.
const (
	residualWm2   = 0.005
	maxIterations = 40
)

// conduct moves heat through nodes for dt seconds, fully implicit, under a
// surface without heat capacity whose temperature starts at skin and is
// returned. Newton's iteration in temperature; a node may not jump over its
// freezing point in one iteration, which keeps the kink of the heat content from
// throwing it back and forth. Heat is conserved to residualWm2.
func conduct(nodes []node, top *surface, skin, dt float64) float64 {
	prepare(nodes)
	first := nodes[0].k / (nodes[0].dz / 2)
	for range maxIterations {
		q, dq := top.flux(skin)
		f := first*(skin-nodes[0].t) - q
		worst := math.Abs(f)
		diag := first - dq
		share, right := first/diag, -f/diag
		above := first
		tAbove, skinNow := skin, skin
		for i := range nodes {
			n := &nodes[i]
			res, cap := n.residual(dt)
			res -= above * (tAbove - n.t)
			below := 0.0
			if i+1 < len(nodes) {
				below = n.g
				res -= below * (nodes[i+1].t - n.t)
			}
			worst = math.Max(worst, math.Abs(res))
			if n.t == n.point && res <= 0 { // heat comes in: thawed side
				cap = n.thawed * n.dz / dt
			}
			d := cap + above + below - above*share
			n.lo, n.r = below/d, (-res+above*right)/d
			share, right = n.lo, n.r
			tAbove, above = n.t, below
		}
		if worst < residualWm2 {
			break
		}
		skin = top.bounded(skinNow, skinNow+backward(nodes, first/diag, -f/diag))
	}
	return skin
}

// prepare notes the heat at the start and the conductance between nodes.
func prepare(nodes []node) {
	for i := range nodes {
		n := &nodes[i]
		n.h0, _ = n.heat(n.t, true)
		if i+1 < len(nodes) {
			m := &nodes[i+1]
			n.g = 1 / (n.dz/(2*n.k) + m.dz/(2*m.k))
		}
	}
}

// residual is the heat gained since the start of the step as a flux, and its slope.
func (n *node) residual(dt float64) (res, slope float64) {
	h, s := n.heat(n.t, true)
	return n.dz * (h - n.h0) / dt, n.dz * s / dt
}

// backward substitutes, moves every node and gives the change of the skin.
func backward(nodes []node, share, right float64) float64 {
	step := 0.0
	for i := len(nodes) - 1; i >= 0; i-- {
		n := &nodes[i]
		step = n.r + n.lo*step
		n.t = held(n.t, n.t+step, n.point)
	}
	return right + share*step
}

// held stops a move at the kink it would jump over.
func held(from, to, kink float64) float64 {
	if (from-kink)*(to-kink) < 0 {
		return kink
	}
	return to
}
