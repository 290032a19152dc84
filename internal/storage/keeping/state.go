package keeping

import (
	"fmt"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Climate is the air of a room for a while.
type Climate struct {
	Kind        string // room kind of the contract
	Temperature unit.Celsius
	Humidity    unit.Maybe[float64] // fraction 0..1; missing: the kind's own is assumed, and said
}

// State is how far a lot's clocks have run. The zero State is a sound lot just
// lifted. It is plain data: kept and resumed at any full hour it gives the same bits.
type State struct {
	Age         float64 `json:"age"`                // share of the median life in store used up
	FrozenAge   float64 `json:"frozen_age"`         // share of the median life in the freezer used up
	WaterLost   float64 `json:"water_lost_percent"` // % of the mass at harvest
	CuredHours  float64 `json:"cured_h"`            // hours in moving air
	BelowHours  float64 `json:"below_freezing_h"`   // hours in a row under the freezing point, outside a freezer
	InFreezer   bool    `json:"in_freezer"`
	FrozeThawed bool    `json:"froze_thawed"` // use promptly, never back into long storage
}

// Cured is a state of a lot that came out of curing.
func (e *Entry) Cured() State {
	if e.Cure == nil {
		return State{}
	}
	return State{CuredHours: e.Cure.Days * 24}
}

// IsCured tells whether the crop needs no curing or has had it.
func (e *Entry) IsCured(s State) bool { return e.Cure == nil || s.CuredHours >= e.Cure.Days*24 }

// Keeper is a crop in a container, ready to be followed through rooms.
type Keeper struct {
	*Entry
	In       Container
	humidity map[string]float64
}

// Keeper joins a crop and a container. A family is needed where the crop has no
// entry of its own.
func (b *Book) Keeper(key, family, container string) (Keeper, error) {
	e, err := b.Entry(key, family)
	if err != nil {
		return Keeper{}, err
	}
	in, err := b.Container(container)
	if err != nil {
		return Keeper{}, err
	}
	return Keeper{Entry: e, In: in, humidity: b.humidity}, nil
}

// After is the state a number of hours later in one climate. It steps by the
// hour, so that following a lot hour by hour gives the same.
func (k Keeper) After(s State, hours float64, c Climate) (State, error) {
	if err := k.checkClimate(c); err != nil {
		return s, err
	}
	if !(hours >= 0) {
		return s, fmt.Errorf("keeping %s: hours must be 0 or more, not %g", k.Name, hours)
	}
	for ; hours > 0; hours-- {
		s = k.step(s, min(1, hours), c)
	}
	return s, nil
}

func (k Keeper) checkClimate(c Climate) error {
	if !c.Temperature.Finite() {
		return fmt.Errorf("keeping %s: the room's temperature is missing", k.Name)
	}
	if h, ok := c.Humidity.Get(); ok && !(h >= 0 && h <= 1) {
		return fmt.Errorf("keeping %s: humidity must be a fraction between 0 and 1, not %g", k.Name, h)
	}
	if _, ok := k.humidity[c.Kind]; !ok {
		return fmt.Errorf("room kind %q: must be one of cold_store, fridge, airy, freezer, ripening, cellar", c.Kind)
	}
	return nil
}

func (k Keeper) step(s State, hours float64, c Climate) State {
	s = k.freeze(s, hours, c)
	p := k.pace(s, c)
	days := hours / 24
	switch {
	case p.curing:
		s.CuredHours += hours
	case s.InFreezer:
		s.FrozenAge += days / p.life.days
	default:
		s.Age += days / p.life.days
		s.WaterLost += days * p.percentDay
	}
	return s
}

// freeze follows the lot through its freezing point: into a freezer on purpose,
// out of it or under it by mishap.
func (k Keeper) freeze(s State, hours float64, c Climate) State {
	point, _ := k.FreezingPoint()
	cold := c.Temperature < point
	switch {
	case c.Kind == farm.Freezer && cold:
		s.InFreezer, s.BelowHours = true, 0
	case s.InFreezer: // taken out, or the freezer failed
		s.InFreezer, s.FrozeThawed = false, true
	case cold:
		s.BelowHours += hours
		s.FrozeThawed = s.FrozeThawed || s.BelowHours >= k.general.FrozenAfter.Value
	default:
		s.BelowHours = 0
	}
	return s
}

// pace is how fast the clocks of a lot run in a climate.
type pace struct {
	life       span    // median life in days, and spread
	percentDay float64 // water, % a day
	water      bool    // the water clock is known
	curing     bool    // both clocks stand while the skins dry
	humidity   float64
	assumed    bool // the humidity is the kind's own
}

func (k Keeper) pace(s State, c Climate) pace {
	t := float64(c.Temperature)
	var p pace
	p.humidity, p.assumed = k.humidityIn(c)
	if s.InFreezer {
		p.life = k.frozenLife(t)
		return p
	}
	cured := k.IsCured(s)
	p.curing = !cured && c.Kind == farm.Airy && !k.In.Closed()
	p.life = k.lifeIn(s, c, cured)
	if kt, ok := k.kt(cured); ok && k.WaterLimit != nil {
		p.percentDay, p.water = WaterLoss(kt, VapourDeficit(c.Temperature, p.humidity), k.In), true
	}
	return p
}

func (k Keeper) humidityIn(c Climate) (h float64, assumed bool) {
	if h, ok := c.Humidity.Get(); ok {
		return h, false
	}
	return k.humidity[c.Kind], true
}

func (k Keeper) lifeIn(s State, c Climate, cured bool) span {
	t := float64(c.Temperature)
	life := k.freshLife(t)
	if c.Kind == farm.Ripening && k.Ripening != nil {
		life = k.ripeningLife(t)
	}
	if !cured {
		life.days /= k.general.UncuredFactor.Value
	}
	if prompt := k.promptLife(t); s.FrozeThawed && prompt.days < life.days {
		life = prompt
	}
	return life
}
