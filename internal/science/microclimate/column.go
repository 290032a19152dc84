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
	// thawing: snow whose base is melting. The base stands at 0 °C, and heat goes
	// to it from above by g and from below by up.
	thawing bool
	up      float64
	lo      float64 // forward sweep: share of the next node
	r       float64 // forward sweep: right side
}

// Limits of the iteration: the residual flux that ends it, how often at most,
// after how many steps in vain they are halved, and after how many sweeps follow.
const (
	residualWm2   = 0.005
	maxIterations = 160
	shortAfter    = 8
	sweepEvery    = 20
	sweeps        = 20
)

// conduct moves heat through nodes for dt seconds, fully implicit, under a
// surface without heat capacity whose temperature starts at skin and is
// returned. Newton's iteration in temperature; a node may not jump over its
// freezing point in one iteration, which keeps the kink of the heat content from
// throwing it back and forth. Where two nodes still throw each other (hardly one
// hour in a thousand) shorter steps and sweeps from node to node, slow but sure for a monotone
// system, lead out. Heat is conserved to residualWm2; not ok where the iteration
// did not get there.
func conduct(nodes []node, top *surface, skin, dt float64) (skinC float64, ok bool) {
	prepare(nodes)
	first := nodes[0].k / (nodes[0].dz / 2)
	for iteration := range maxIterations {
		q, dq := top.flux(skin)
		f := first*(skin-nodes[0].t) - q
		worst := math.Abs(f)
		diag := first - dq
		share, right := first/diag, -f/diag
		above := first
		tAbove := skin
		for i := range nodes {
			n := &nodes[i]
			res, cap := n.residual(dt)
			res -= above * (tAbove - n.t)
			below := n.g
			if i+1 < len(nodes) {
				res -= below * (n.beneath(&nodes[i+1]) - n.t)
			}
			worst = math.Max(worst, math.Abs(res))
			if n.t == n.point && res <= 0 { // heat comes in: thawed side
				cap = n.thawed * n.dz / dt
			}
			d := cap + above + below - above*share
			n.lo, n.r = below/d, (-res+above*right)/d
			share, right = n.lo, n.r
			tAbove, above = n.t, below
			if n.thawing {
				n.lo, share, right, tAbove, above = 0, 0, 0, 0, n.up
			}
		}
		if worst < residualWm2 {
			return skin, true
		}
		relax := 1.0
		if iteration >= shortAfter {
			relax = 0.5
		}
		skin = bounded(skin, relax*backward(nodes, first/diag, -f/diag, relax))
		if iteration%sweepEvery == sweepEvery-1 {
			for range sweeps {
				skin = sweep(nodes, top, skin, dt)
			}
		}
	}
	return skin, false
}

// prepare notes the heat at the start and the conductance between nodes.
func prepare(nodes []node) {
	for i := range nodes {
		n := &nodes[i]
		n.h0, _ = n.heat(n.t, true)
		switch {
		case i+1 == len(nodes):
			n.g = 0
		case n.thawing:
			n.g, n.up = 2*n.k/n.dz, 2*nodes[i+1].k/nodes[i+1].dz
		default:
			n.g = 1 / (n.dz/(2*n.k) + nodes[i+1].dz/(2*nodes[i+1].k))
		}
	}
}

// beneath is the temperature that a node exchanges heat with below.
func (n *node) beneath(next *node) float64 {
	if n.thawing {
		return 0
	}
	return next.t
}

// residual is the heat gained since the start of the step as a flux, and its slope.
func (n *node) residual(dt float64) (res, slope float64) {
	h, s := n.heat(n.t, true)
	return n.dz * (h - n.h0) / dt, n.dz * s / dt
}

// backward substitutes, moves every node and gives the change of the skin.
func backward(nodes []node, share, right, relax float64) float64 {
	step := 0.0
	for i := len(nodes) - 1; i >= 0; i-- {
		n := &nodes[i]
		step = n.r + n.lo*step
		n.t = n.moved(relax * step)
	}
	return right + share*step
}

// moved is the temperature after a step, which may not jump over a freezing point:
// there the heat content is steep below and flat above, and Newton would be
// thrown back and forth. Melting snow, flat below and steep above, needs no stop.
func (n *node) moved(step float64) float64 {
	to := n.t + step
	if n.latent > 0 && (n.t-n.point)*(to-n.point) < 0 {
		return n.point
	}
	return to
}

// meltedBelow is the heat of an hour that melts the base of a thawing node, J/m².
func (n *node) meltedBelow(next *node) float64 {
	if !n.thawing {
		return 0
	}
	return math.Max(0, n.up*next.t+n.g*math.Min(0, n.t)) * hourS
}

// sweep balances the surface and then each node by itself, its neighbours held.
func sweep(nodes []node, top *surface, skin, dt float64) float64 {
	above := nodes[0].k / (nodes[0].dz / 2)
	skin = top.alone(skin, above, nodes[0].t)
	tAbove := skin
	for i := range nodes {
		n := &nodes[i]
		in := above * tAbove
		if i+1 < len(nodes) {
			in += n.g * n.beneath(&nodes[i+1])
		}
		n.t = n.alone(in, above+n.g, dt)
		tAbove, above = n.t, n.g
		if n.thawing {
			tAbove, above = 0, n.up
		}
	}
	return skin
}

// alone is the temperature at which a node gains what comes in (W/m²) less what
// a conductance takes out.
func (n *node) alone(in, out, dt float64) float64 {
	c := n.dz / dt
	t := (in + c*(n.h0+n.thawed*n.point)) / (c*n.thawed + out)
	if t >= n.point {
		return t
	}
	t = n.point
	for range 60 {
		h, slope := n.heat(t, true)
		step := (c*(h-n.h0) + out*t - in) / (c*slope + out)
		t -= step
		if math.Abs(step) < 1e-9 {
			break
		}
	}
	return t
}
