package lifting

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// programme is the plan where rooms bind. An hour of one bed fills a room faster
// than an hour of another, so no order of the beds alone is right any more; but
// with a price on each kilogram of room the greedy plan is right again. So the
// linear programme
//
//	maximise   Σ value of plan v · weight v          over plans v of the hours alone
//	subject to Σ weight ≤ 1
//	           Σ kg of a kind in v · weight v ≤ Σ over suiting rooms of what goes there
//	           Σ over kinds of what goes into a room ≤ room left
//
// is grown plan by plan: its dual gives the prices, the prices give the greedy
// plan that is missing, until none is (Dantzig & Wolfe 1960, from memory). It
// stays as small as the number of rooms, however many beds and windows.
type programme struct {
	*job
	capacity []float64 // person-hours, by class
	free     []float64 // kg, by store
	stores   []int     // rooms that limit something
	kinds    [][]bool  // distinct sets of suiting stores
	kindOf   []int     // by bed; -1: no room limits it, -2: no room takes it
	plans    []vertex
	perValue float64 // scales that bring the programme near 1
	perKg    float64
}

// vertex is a plan of the hours alone.
type vertex struct {
	hours []float64 // by bed
	value float64
	kg    []float64 // by kind
}

// prices of the dual: theta for the hours as a whole, kg by kind.
type prices struct {
	theta float64
	kg    []float64
}

// rounds bounds the growth; real farms need some tens.
const rounds = 400

// settled is the gap, as a share of the whole value, below which no plan is missing.
const settled = 1e-9

var errNotSettled = errors.New("lifting plan: linear programme: not settled")

func (j *job) programme(capacity, kg []float64, start []vertex) ([]float64, []vertex, error) {
	p := &programme{job: j, capacity: capacity}
	p.sort(kg)
	for _, v := range start {
		p.add(v.hours)
	}
	if len(p.plans) == 0 {
		p.add(p.priced(prices{kg: make([]float64, len(p.kinds))}))
	}
	p.scale()
	for range rounds {
		at, err := p.dual()
		if err != nil {
			return nil, nil, err
		}
		if !p.grow(at) {
			hours, err := p.primal()
			return hours, p.plans, err
		}
	}
	return nil, nil, errNotSettled
}

// sort finds which rooms limit which kinds of bed.
func (p *programme) sort(kg []float64) {
	for k := range p.rooms {
		if !math.IsInf(kg[k], 1) {
			p.stores = append(p.stores, k)
		}
	}
	for i := range p.beds {
		p.kindOf = append(p.kindOf, p.kind(i))
	}
	used := func(k int) bool {
		return slices.ContainsFunc(p.kinds, func(suits []bool) bool { return suits[k] })
	}
	p.stores = slices.DeleteFunc(p.stores, func(k int) bool { return !used(k) })
	for _, k := range p.stores {
		p.free = append(p.free, kg[k])
	}
}

func (p *programme) kind(i int) int {
	switch {
	case p.roomless(i):
		return -1
	case !slices.Contains(p.suits[i], true):
		return -2
	}
	n := slices.IndexFunc(p.kinds, func(s []bool) bool { return slices.Equal(s, p.suits[i]) })
	if n < 0 {
		n, p.kinds = len(p.kinds), append(p.kinds, p.suits[i])
	}
	return n
}

func (p *programme) scale() {
	p.perValue, p.perKg = math.Max(1e-9, p.plans[0].value), 1e-9
	for _, kg := range p.plans[0].kg {
		p.perKg = math.Max(p.perKg, kg)
	}
}

// priced is the greedy plan at prices in value per kg.
func (p *programme) priced(at prices) []float64 {
	worth := slices.Clone(p.worth)
	for i, kind := range p.kindOf {
		switch {
		case kind >= 0:
			worth[i] -= at.kg[kind] * p.beds[i].KgPerHour
		case kind == -2:
			worth[i] = 0
		}
	}
	return p.greedy(worth, p.capacity)
}

func (p *programme) add(hours []float64) vertex {
	v := vertex{hours: hours, kg: make([]float64, len(p.kinds))}
	for i, h := range hours {
		v.value += h * p.worth[i]
		if kind := p.kindOf[i]; kind >= 0 {
			v.kg[kind] += h * p.beds[i].KgPerHour
		}
	}
	p.plans = append(p.plans, v)
	return v
}

// grow adds the plan that is best at these prices, unless it is known.
func (p *programme) grow(at prices) bool {
	v := p.add(p.priced(at))
	net := v.value - at.theta
	for kind, kg := range v.kg {
		net -= at.kg[kind] * kg
	}
	if net > settled*p.perValue {
		return true
	}
	p.plans = p.plans[:len(p.plans)-1]
	return false
}

// dual: minimise θ + Σ room·λ with θ + Σ kg·π ≥ value for every plan, and λ ≥ π
// for every kind and a room that suits it. Columns θ, π, λ, then surpluses.
func (p *programme) dual() (prices, error) {
	var rows [][]float64
	var right []float64
	nk, ns := len(p.kinds), len(p.stores)
	for _, v := range p.plans {
		r := make([]float64, 1+nk+ns)
		r[0] = 1
		for kind, kg := range v.kg {
			r[1+kind] = kg / p.perKg
		}
		rows, right = append(rows, r), append(right, v.value/p.perValue)
	}
	for kind, suits := range p.kinds {
		for s, k := range p.stores {
			if suits[k] {
				r := make([]float64, 1+nk+ns)
				r[1+kind], r[1+nk+s] = -1, 1
				rows, right = append(rows, r), append(right, 0)
			}
		}
	}
	cost := append([]float64{1}, make([]float64, nk)...)
	for _, free := range p.free {
		cost = append(cost, free/p.perKg)
	}
	x, err := simplex(cost, rows, right, -1)
	if err != nil {
		return prices{}, err
	}
	out := prices{theta: x[0] * p.perValue}
	for kind := range p.kinds {
		out.kg = append(out.kg, x[1+kind]*p.perValue/p.perKg)
	}
	return out, nil
}

// primal gives the hours: the mixture of plans that fits the rooms. Columns are
// the weights, then kg by kind and store, then slacks.
func (p *programme) primal() ([]float64, error) {
	np, nk, ns := len(p.plans), len(p.kinds), len(p.stores)
	goes := func(kind, s int) int { return np + kind*ns + s }
	width := np + nk*ns
	cost := make([]float64, width)
	whole := make([]float64, width)
	rows, right := [][]float64{whole}, []float64{1}
	for v, plan := range p.plans {
		whole[v], cost[v] = 1, -plan.value/p.perValue
	}
	for kind, suits := range p.kinds {
		r := make([]float64, width)
		for v, plan := range p.plans {
			r[v] = plan.kg[kind] / p.perKg
		}
		for s, k := range p.stores {
			r[goes(kind, s)] = -one(suits[k])
		}
		rows, right = append(rows, r), append(right, 0)
	}
	for s, free := range p.free {
		r := make([]float64, width)
		for kind := range p.kinds {
			r[goes(kind, s)] = 1
		}
		rows, right = append(rows, r), append(right, free/p.perKg)
	}
	x, err := simplex(cost, rows, right, 1)
	if err != nil {
		return nil, err
	}
	return p.mix(x[:np]), nil
}

func (p *programme) mix(weights []float64) []float64 {
	out := make([]float64, len(p.beds))
	for v, w := range weights {
		for i, h := range p.plans[v].hours {
			out[i] += math.Max(0, w) * h
		}
	}
	for i := range out {
		out[i] = math.Min(out[i], p.hours[i])
	}
	return out
}

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// simplex minimises cost·x over rows·x ≤ right (sign +1) or ≥ right (sign -1),
// x ≥ 0, right ≥ 0. A first basis is known in both cases: all slacks; or all
// surpluses but that of the greatest right-hand side, whose row the first
// column, which must be 1 or 0 everywhere, satisfies.
func simplex(cost []float64, rows [][]float64, right []float64, sign float64) (x []float64, err error) {
	m, n := len(rows), len(cost)
	a := mat.NewDense(m, n+m, nil)
	basis := make([]int, m)
	for k, r := range rows {
		for c, v := range r {
			a.Set(k, c, v)
		}
		a.Set(k, n+k, sign)
		basis[k] = n + k
	}
	if sign < 0 {
		basis[slices.Index(right, slices.Max(right))] = 0
	}
	defer func() { // the solver panics where it finds a basis singular
		if r := recover(); r != nil {
			err = fmt.Errorf("lifting plan: linear programme: %v", r)
		}
	}()
	_, x, err = lp.Simplex(append(slices.Clone(cost), make([]float64, m)...), a, right, 1e-12, basis)
	if err != nil {
		return nil, fmt.Errorf("lifting plan: linear programme: %w", err)
	}
	return x, nil
}
