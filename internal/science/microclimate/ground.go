package microclimate

import (
	"errors"
	"fmt"
	"time"

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
