package microclimate

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// neumann is the two-phase freezing half-space of Carslaw & Jaeger 1959,
// Conduction of Heat in Solids, §11.2.
type neumann struct {
	ku, kf, cu, cf, latent float64
	initial, held          float64 // °C
}

// front is the depth of the frost after some seconds, from the transcendental
// equation of the similarity solution, by bisection.
func (n neumann) front(seconds float64) float64 {
	au, af := n.ku/n.cu, n.kf/n.cf
	f := func(lambda float64) float64 {
		r := lambda * math.Sqrt(af/au)
		return math.Exp(-lambda*lambda)/math.Erf(lambda) -
			n.ku/n.kf*math.Sqrt(af/au)*n.initial/(-n.held)*math.Exp(-r*r)/math.Erfc(r) -
			lambda*n.latent*math.Sqrt(math.Pi)/(n.cf*-n.held)
	}
	lo, hi := 1e-6, 3.0
	for range 100 {
		if mid := (lo + hi) / 2; f(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return 2 * lo * math.Sqrt(af*seconds)
}

// column is the same problem for the solver of the ground.
func (n neumann) column(thick []float64, hours int) []node {
	nodes := make([]node, len(thick))
	for i := range nodes {
		nodes[i] = node{dz: thick[i], t: n.initial,
			medium: medium{thawed: n.cu, frozen: n.cf, latent: n.latent, point: -1e-3, power: 4}}
	}
	top := surface{airC: n.held, neutral: 1e7, pressure: standardHPa}
	skin := n.held
	for range hours {
		for i := range nodes {
			u := nodes[i].unfrozen(nodes[i].t)
			nodes[i].k = u*n.ku + (1-u)*n.kf
		}
		skin, _ = conduct(nodes, &top, skin, hourS)
	}
	return nodes
}

// frozenM is the thickness of ice, by its share of the latent heat.
func frozenM(nodes []node) float64 {
	x := 0.0
	for i := range nodes {
		x += (1 - nodes[i].unfrozen(nodes[i].t)) * nodes[i].dz
	}
	return x
}

var neumannRows = []struct {
	neumann
	x float64
}{
	{neumann{1.2, 1.8, 2.6e6, 1.9e6, 8.35e7, 5, -5}, 0.6202},
	{neumann{1.2, 1.8, 2.6e6, 1.9e6, 8.35e7, 2, -5}, 0.6846},
	{neumann{1.2, 1.8, 2.6e6, 1.9e6, 8.35e7, 5, -10}, 0.8944},
	{neumann{1.0, 1.6, 2.4e6, 1.8e6, 6.68e7, 8, -3}, 0.4316},
}

func TestFreezingFrontFollowsNeumann(t *testing.T) {
	fine := make([]float64, 400)
	for i := range fine {
		fine[i] = 0.02
	}
	for _, r := range neumannRows {
		t.Run(fmt.Sprintf("%v to %v", r.initial, r.held), func(t *testing.T) {
			require.InDelta(t, r.x, r.front(30*86400), 1e-4, "Carslaw & Jaeger 1959, §11.2")
			x := frozenM(r.column(fine, 30*24))
			assert.InEpsilon(t, r.x, x, 0.02, "even layers of 2 cm")
			x24 := frozenM(r.column(soilThick[:], 30*24))
			assert.InEpsilon(t, r.x, x24, 0.04, "the ground's own 24 layers, 10 to 20 cm thick at the front")
			t.Logf("%.4f even %.4f ground's %.4f", r.x, x, x24)
		})
	}
}
