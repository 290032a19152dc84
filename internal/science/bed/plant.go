package bed

import (
	"fmt"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/hardiness"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Plant is what grows in a bed, as far as the cold can tell it apart.
type Plant struct {
	Crop   crop.Crop
	Offset unit.Kelvins // what findings or the grower say against the catalogue; negative is hardier
	Since  time.Time    // planted or first known: it was unhardened then
	Found  []Finding    // by night ascending
}

// Finding is what was seen after a night: from then on that much is left.
type Finding struct {
	At   int64   `json:"at"` // Unix seconds, a full hour: the noon after the night
	Left float64 `json:"left"`
}

// Key names the plant within its class. The catalogue's figures are part of it:
// a state that was reached by other figures is not resumed.
func (p Plant) Key() string {
	c := p.Crop
	key := fmt.Appendf(nil, "%s|%.2f|%d|%v %v %v %v %g|", c.Name, float64(p.Offset), p.Since.Unix(), c.Sold, c.Margin, c.Regrow, c.Chill, c.ShoulderCm)
	for _, f := range p.Found {
		key = fmt.Appendf(key, "%d:%g,", f.At, f.Left)
	}
	return string(key)
}

// State is a plant at an hour.
type State struct {
	Sold  hardiness.State `json:"sold"`
	Crown hardiness.State `json:"crown"`
	Base  float64         `json:"base"` // quality at the last finding: loss is counted from there
	Lost  int64           `json:"lost"` // Unix seconds at which quality first fell by LossShare below Base; 0: not
	Low   float64         `json:"low"`  // air at the bed at that hour, °C

	Died      Passing `json:"died,omitzero"`       // when the life of what is sold had fallen as far
	CrownDied Passing `json:"crown_died,omitzero"` // when that of the crown had
}

// Passing is an hour in which something was lost. Its zero value is never.
type Passing struct {
	At  int64   `json:"at"`  // Unix seconds
	Low float64 `json:"low"` // air at the bed, °C
}

// LossShare is the cumulative loss from which a bed counts as lost; own default.
const LossShare = 0.2

// NewState is a whole plant at the tolerance of a place and day.
func (p Plant) NewState(latitude float64, at time.Time) State {
	s := State{Base: 1}
	day := at.YearDay()
	l, _ := hardiness.DefaultStart(p.Crop.Sold, latitude, day)
	s.Sold = hardiness.Start(p.Crop.Sold, l)
	if r, ok := p.Crop.Regrow.Get(); ok {
		l, _ = hardiness.DefaultStart(r, latitude, day)
		s.Crown = hardiness.Start(r, l)
	}
	return s
}

// Tissue is what the organs of one plant feel in an hour.
type Tissue struct {
	Sold  unit.Celsius // leaf, or the shoulder of a root
	Crown unit.Celsius
	Snow  float64      // cm on the bed
	Frost float64      // cm of frozen crust
	Soil5 unit.Celsius // 5 cm down
}

// Organ is where what is sold meets the cold: leaves up to a height, or the
// shoulder of a root down to a depth. Crops with equal organs feel the same.
type Organ struct {
	leaf bool
	cm   float64
}

// SoldOrgan of a crop.
func SoldOrgan(c crop.Crop) Organ {
	if c.Organ.AboveGround() {
		return Organ{leaf: true, cm: c.HeightCm}
	}
	return Organ{cm: c.ShoulderCm}
}

// Temperature of the organ after the ground was stepped through h.
func (o Organ) Temperature(g *microclimate.Ground, site *microclimate.Site, on microclimate.Dressing, h weather.Hour) (unit.Celsius, error) {
	if !o.leaf {
		return g.Shoulder(o.cm), nil
	}
	return g.Leaf(site, on, h, o.cm)
}

// TissueIn reads the organs' temperatures after the ground was stepped through h.
func (p *Plant) TissueIn(g *microclimate.Ground, site *microclimate.Site, on microclimate.Dressing, h weather.Hour) (Tissue, error) {
	t := Tissue{Crown: g.Crown(), Snow: g.SnowCm(), Frost: g.FrozenCm(), Soil5: g.SoilAt(5)}
	sold, err := SoldOrgan(p.Crop).Temperature(g, site, on, h)
	t.Sold = sold
	return t, err
}

// note marks the first hour of loss and takes in what the grower found.
func (p *Plant) note(s State, at time.Time, air unit.Celsius) State {
	if s.Lost == 0 && s.Loss() > LossShare {
		s.Lost, s.Low = at.Unix(), float64(air)
	}
	s.Died = s.Died.or(1-s.Sold.Survival, at, air)
	if p.Crop.Regrow.Known() {
		s.CrownDied = s.CrownDied.or(1-s.Crown.Survival, at, air)
	}
	for _, f := range p.Found {
		if f.At == at.Unix() {
			s = s.found(f)
		}
	}
	return s
}

func (p Passing) or(loss float64, at time.Time, air unit.Celsius) Passing {
	if p.At == 0 && loss > LossShare {
		return Passing{At: at.Unix(), Low: float64(air)}
	}
	return p
}

// found sets back what the model thinks was lost to what was seen. Where
// something is left, all of that lives, and so does what it would regrow from.
func (s State) found(f Finding) State {
	s.Sold.Quality, s.Base, s.Lost, s.Low = f.Left, f.Left, 0, 0
	s.Sold.EventDamage, s.Sold.EventKill = 0, 0
	if f.Left > 0 {
		s.Sold.Survival, s.Died = 1, Passing{}
		s.Crown.Survival, s.Crown.Quality, s.CrownDied = 1, 1, Passing{}
		s.Crown.EventDamage, s.Crown.EventKill = 0, 0
	} else {
		s.Lost = f.At - int64(time.Hour/time.Second) // in the night before that noon
	}
	return s
}

// NothingLeft: the grower found the bed wholly lost.
func (s State) NothingLeft() bool { return s.Base <= 0 }

// Loss of market quality since the last finding, 0..1.
func (s State) Loss() float64 {
	if s.Base <= 0 {
		return 0
	}
	return 1 - s.Sold.Quality/s.Base
}

// Threshold is the tissue temperature at which loss begins to matter.
func (p *Plant) Threshold(s State) unit.Celsius {
	return s.Sold.LT50.Plus(p.Offset + p.Crop.Margin)
}

// CrownThreshold is the temperature at which half of the crowns die.
func (p *Plant) CrownThreshold(s State) unit.Celsius { return s.Crown.LT50.Plus(p.Offset) }

// FindingAt is when a finding about a night counts: the noon after it.
func FindingAt(night farm.Day, zone *time.Location) int64 {
	return night.Add(1).Noon(zone).Truncate(time.Hour).Unix()
}
