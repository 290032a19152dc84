package microclimate

import "math"

// fillAbove lists snow, straw and mat, top first, and says how many nodes they are.
func (g *Ground) fillAbove(room *[maxNodes]node, on *Dressing) int {
	n := 0
	for i := range g.Snow.Layers {
		room[n] = snowNode(&g.Snow, i)
		n++
	}
	if thick := g.strawM(); thick > 0 {
		for i := range g.StrawC {
			room[n] = node{dz: thick / strawNodes, k: strawK, t: g.StrawC[i], medium: medium{thawed: strawHeat, frozen: strawHeat}}
			n++
		}
	}
	if mat := faces[on.face()].mat; mat.thickM > 0 {
		for i := range g.MatC {
			room[n] = node{dz: mat.thickM / matNodes, k: mat.k, t: g.MatC[i], medium: mat.medium}
			n++
		}
	}
	return n
}

// strawM is the depth of the settled straw in metres; a few stalks are none.
func (g *Ground) strawM() float64 {
	if thick := settledM(g.StrawCm, g.StrawHours); thick >= fewStalksM {
		return thick
	}
	return 0
}

const fewStalksM = 0.002

// meltRangeK spreads the melting of snow over a tenth of a kelvin.
const meltRangeK = 0.1

func snowNode(s *Snow, i int32) node {
	thick := s.ThickM[i]
	ice := s.IceKgM2[i] / thick
	density := ice + s.WetKgM2[i]/thick
	return node{
		dz: thick, k: SnowConductivity(density), t: s.TempC[i],
		medium: medium{thawed: ice * latentJPerKg / meltRangeK, frozen: ice * iceSpecificHeat},
	}
}

func (g *Ground) fillSoil(nodes []node, p *profile) {
	for i := range g.SoilC {
		e := &p.mineral
		if soilMiddle[i] < p.humusM {
			e = &humus
		}
		t := g.SoilC[i]
		nodes[i] = node{dz: soilThick[i], k: e.conductivity(e.unfrozen(t)), t: t, medium: e.medium}
	}
}

// top is the energy balance of the uppermost surface.
func (g *Ground) top(site *Site, on *Dressing, v *shelteredAir) surface {
	f := g.uppermost(on)
	p := pressureAt(site.ElevationM)
	return surface{
		absorbed:   (1-f.albedo)*v.sunWm2 + f.emissivity*v.skyWm2,
		emissivity: f.emissivity, airC: v.airC, vapourHPa: v.vapourHPa,
		neutral:  exchangeWm2K(v.windMS, f.roughM, v.airC, p),
		windless: windlessWm2K, louis: louisFactor(f.roughM), stability: richardson(v.windMS, v.airC),
		wetness: f.wetness, pressure: p, melting: g.Snow.Layers > 0,
	}
}

// Snow: emissivity 0.98 and roughness 2 mm (Oke 1987); a pack of less than 5 cm
// lets the ground's albedo through.
const (
	snowEmissivity = 0.98
	snowRoughM     = 0.002
	snowMasksM     = 0.05
)

func (g *Ground) uppermost(on *Dressing) face {
	f := faces[on.face()]
	if g.StrawCm > 0 {
		masks := math.Min(1, g.StrawCm/strawMasksCm)
		f.albedo += masks * (strawAlbedo - f.albedo)
		f.emissivity += masks * (strawEmissivity - f.emissivity)
		f.roughM += masks * (strawRoughM - f.roughM)
		f.wetness += masks * (strawWetness - f.wetness)
	}
	if g.Snow.Layers == 0 {
		return f
	}
	masks := math.Min(1, g.Snow.DepthM()/snowMasksM)
	f.albedo += masks * (g.Snow.albedo(g.Snow.TempC[0] >= 0) - f.albedo)
	f.emissivity, f.roughM, f.wetness = snowEmissivity, snowRoughM, 1
	return f
}

// between is the temperature where two layers meet.
func between(a, b *node) float64 {
	if a.thawing {
		return 0
	}
	up, down := 2*a.k/a.dz, 2*b.k/b.dz
	return (up*a.t + down*b.t) / (up + down)
}

// readBack takes the temperatures out of the nodes and melts snow.
func (g *Ground) readBack(nodes []node, above int) {
	n := 0
	melted := 0.0
	for i := range g.Snow.Layers {
		if t := nodes[n].t; t > 0 {
			melted += nodes[n].thawed * t * nodes[n].dz
		}
		melted += nodes[n].meltedBelow(&nodes[n+1])
		g.Snow.TempC[i] = math.Min(0, nodes[n].t)
		n++
	}
	if g.strawM() > 0 {
		n += readInto(g.StrawC[:], nodes[n:])
	}
	if n < above {
		readInto(g.MatC[:], nodes[n:])
	}
	readInto(g.SoilC[:], nodes[above:])
	if g.Snow.Layers > 0 {
		if g.SkinC > 0 {
			melted += meltWm2K * g.SkinC * hourS
			g.SkinC = 0
		}
		g.Snow.melt(melted)
		g.Snow.drain()
	}
}

func readInto(to []float64, nodes []node) int {
	for i := range to {
		to[i] = nodes[i].t
	}
	return len(to)
}
