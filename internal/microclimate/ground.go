package microclimate

import (
	"errors"
	"fmt"
	"math"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

const (
	strawNodes = 2
	matNodes   = 2
	maxNodes   = SnowLayers + strawNodes + matNodes + SoilLayers
	hourS      = 3600.0
)

// Ground is the state of a soil column with what lies on it: a plain value of
// fixed size that can be copied, compared, and written to JSON or by
// encoding/binary and read back bit for bit.
type Ground struct {
	Unix       int64               `json:"unix"`      // start of the next hour, UTC seconds: the state holds up to it
	SoilC      [SoilLayers]float64 `json:"soil_c"`    // middles of the layers
	SurfaceC   float64             `json:"surface_c"` // where soil meets what lies on it
	BaseC      float64             `json:"base_c"`    // where snow meets what it lies on; without snow the uppermost surface
	SkinC      float64             `json:"skin_c"`    // uppermost surface of all
	StrawC     [strawNodes]float64 `json:"straw_c"`
	MatC       [matNodes]float64   `json:"mat_c"`
	StrawCm    float64             `json:"straw_cm"`    // as laid
	StrawHours float64             `json:"straw_hours"` // since it was laid
	Snow       Snow                `json:"snow"`
	Soil       int32               `json:"soil"` // index in Soils of the class that the frozen depth is read by
	BlindHours int32               `json:"blind_hours"`
}

// NewGround is a column at the start of an hour, without snow, as an ordinary
// year leaves it: the yearly wave of place and date run through it for a year.
// Start it some weeks before the first frost, so that the weather has shaped the
// upper half metre.
func NewGround(site Site, at time.Time) Ground {
	g := Ground{Unix: at.UTC().Truncate(time.Hour).Unix(), Soil: soilIndex(site.Soil)}
	a := earthOf(site.Soil).diffusivity()
	begin := g.At().AddDate(-1, 0, 0)
	for i := range g.SoilC {
		g.SoilC[i] = site.yearly(begin, soilMiddle[i], a)
	}
	for day := begin; day.Before(g.At()); day = day.AddDate(0, 0, 1) {
		g.ordinaryDay(&site, day)
	}
	g.StrawC = [strawNodes]float64{g.SkinC, g.SkinC}
	g.MatC = [matNodes]float64{g.SkinC, g.SkinC}
	return g
}

// ordinaryDay holds the surface at the yearly wave for a day.
func (g *Ground) ordinaryDay(site *Site, day time.Time) {
	var room [SoilLayers]node
	g.fillSoil(room[:], profileOf(Bare, site.Soil))
	wave := site.groundWave(day)
	held := surface{airC: wave, neutral: 1e6, pressure: standardHPa}
	g.SkinC, _ = conduct(room[:], &held, wave, 24*hourS) // smooth by nature: a wave of a year
	g.SurfaceC, g.BaseC = g.SkinC, g.SkinC
	readInto(g.SoilC[:], room[:])
}

func soilIndex(s Soil) int32 {
	for i, k := range soilOrder {
		if k == s {
			return int32(i)
		}
	}
	return soilIndex(Loam)
}

var soilOrder = Soils()

// At is the instant up to which the state holds: the start of the next hour.
func (g *Ground) At() time.Time { return time.Unix(g.Unix, 0).UTC() }

// Step takes the column through one hour of weather. The hour must be the one
// that follows. Errors name the missing or impossible quantity and leave the
// state as it was. Missing dew point, wind, cloud and shortwave have documented
// defaults; an hour with neither precipitation nor a snow depth is counted in
// BlindHours, for then nobody knows whether it snowed.
func (g *Ground) Step(site *Site, on Dressing, h weather.Hour) error {
	if err := g.accepts(site, &on, &h); err != nil {
		return err
	}
	m, err := readHour(site, &h)
	if err != nil {
		return err
	}
	before := *g
	v := over(&on, &m)
	g.lay(&on)
	g.receive(&v, &m)
	if !g.conductHour(site, &on, &v) {
		*g = before
		return fmt.Errorf("hour %s: %w", h.At.UTC().Format(time.RFC3339), ErrUnsettled)
	}
	g.Unix += int64(hourS)
	return nil
}

// ErrUnsettled says that no temperature was found that balances the heat of the
// hour; the state is that before it.
var ErrUnsettled = errors.New("heat conduction in the ground found no balance")

func (g *Ground) accepts(site *Site, on *Dressing, h *weather.Hour) error {
	if h.At.Unix() != g.Unix {
		return fmt.Errorf("hour %s: the ground's next hour is %s", h.At.UTC().Format(time.RFC3339), g.At().Format(time.RFC3339))
	}
	if err := site.Check(); err != nil {
		return err
	}
	return on.Check()
}

// shelteredAir is the air next to the ground, under cover and trees.
type shelteredAir struct {
	airC, vapourHPa float64
	windMS, sunWm2  float64
	skyWm2          float64
	keepsSnow       bool
}

// over is the weather as it reaches the ground through cover and surface.
func over(on *Dressing, m *met) shelteredAir {
	c, f := on.Cover.Shelter(), faces[on.face()]
	v := shelteredAir{airC: m.airC, vapourHPa: m.vapourHPa, keepsSnow: c.KeepsSnow}
	v.airC += c.gainAt(on.Draw, m.airC, m.wind2MS, m.sunWm2)
	if c.Wind < 1 {
		v.vapourHPa = math.Max(v.vapourHPa, coveredHumidity*satWater(v.airC))
	}
	v.windMS = math.Max(leastWindBelowMS, m.wind2MS*c.Wind*f.wind)
	v.sunWm2 = m.sunWm2 * c.Sun * f.sun
	sky := c.Sky * f.sky
	v.skyWm2 = sky*m.skyWm2 + (1-sky)*black(v.airC)
	return v
}

const (
	coveredHumidity  = 0.9 // air under a cover over moist ground (own default)
	leastWindBelowMS = 0.3
)

// lay puts straw on or takes it off.
func (g *Ground) lay(on *Dressing) {
	switch {
	case on.MulchCm > g.StrawCm:
		if g.StrawCm == 0 {
			g.StrawC = [strawNodes]float64{g.SkinC, g.SkinC}
		}
		g.StrawHours = 0
	case on.MulchCm == 0:
		g.StrawHours = 0
	}
	g.StrawCm = on.MulchCm
	if g.StrawCm > 0 {
		g.StrawHours++
	}
	if faces[on.face()].mat.thickM == 0 {
		g.MatC = [matNodes]float64{g.SurfaceC, g.SurfaceC}
	}
}

// receive lets precipitation fall and settles the pack, then believes a reading.
func (g *Ground) receive(v *shelteredAir, m *met) {
	if !m.precipKnown && !m.snowKnown {
		g.BlindHours++
	}
	if m.precipMM > 0 && !v.keepsSnow {
		snow := m.precipMM * SnowShare(m.wetBulbC)
		g.Snow.fall(snow, v.airC)
		if rain := m.precipMM - snow; g.Snow.Layers > 0 {
			g.Snow.rain(rain)
		}
	}
	g.Snow.settle(hourS)
	g.Snow.AgeHours++
	if m.snowKnown && !v.keepsSnow {
		g.Snow.setDepth(m.snowM, v.airC)
	}
	if g.Snow.Layers == 0 {
		g.Snow.AgeHours = 0
	}
}

// conductHour moves heat for an hour and melts what has become too warm.
func (g *Ground) conductHour(site *Site, on *Dressing, v *shelteredAir) (ok bool) {
	var room [maxNodes]node
	above := g.fillAbove(&room, on)
	g.fillSoil(room[above:], profileOf(on.face(), site.Soil))
	nodes := room[:above+SoilLayers]
	g.thawBase(nodes)
	top := g.top(site, on, v)
	if g.SkinC, ok = conduct(nodes, &top, g.SkinC, hourS); !ok {
		return false
	}
	g.SurfaceC, g.BaseC = g.SkinC, g.SkinC
	if above > 0 {
		g.SurfaceC = between(&nodes[above-1], &nodes[above])
	}
	if n := g.Snow.Layers; n > 0 {
		g.BaseC = between(&nodes[n-1], &nodes[n])
	}
	g.readBack(nodes, above)
	return true
}

// thawBase marks the lowest snow where what lies under it is warm enough to melt it.
func (g *Ground) thawBase(nodes []node) {
	if n := g.Snow.Layers; n > 0 && nodes[n].t > 0 && between(&nodes[n-1], &nodes[n]) > 0 {
		nodes[n-1].thawing = true
	}
}

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

// SnowCm is the depth of snow on the bed.
func (g *Ground) SnowCm() float64 { return 100 * g.Snow.DepthM() }

// SoilAt is the soil temperature at a depth in cm, straight between the middles
// of the layers; 0 is the soil surface under whatever lies on it, where crowns are.
func (g *Ground) SoilAt(cm float64) unit.Celsius {
	m, above, tAbove := cm/100, 0.0, g.SurfaceC
	for i, middle := range soilMiddle {
		if m <= middle {
			return unit.Celsius(tAbove + (g.SoilC[i]-tAbove)*(m-above)/(middle-above))
		}
		above, tAbove = middle, g.SoilC[i]
	}
	return unit.Celsius(tAbove)
}

// frozenShare is the share of ice in the soil water from which a layer counts as
// wholly frozen to a fork (own default: a third of the water binds the grains).
const frozenShare = 1.0 / 3

// crustFromM: frost that begins deeper than this does not stop a fork.
const crustFromM = 0.30

// FrozenCm is the thickness of the frozen crust: the uppermost frozen stretch,
// even when mud has thawed above it, from where it begins down to where it ends.
func (g *Ground) FrozenCm() float64 {
	e, crust, top := earthOf(soilOrder[g.Soil]), 0.0, 0.0
	for i, t := range g.SoilC {
		share := math.Min(1, (1-e.unfrozen(t))/frozenShare)
		if share == 0 && (crust > 0 || top > crustFromM) {
			break
		}
		crust += share * soilThick[i]
		top += soilThick[i]
	}
	return 100 * crust
}

// Diggable tells whether a fork still breaks through: the crust is thinner than
// a limit in cm, about 3 for a fork.
func (g *Ground) Diggable(limitCm float64) bool { return g.FrozenCm() < limitCm }
