package keeping

import (
	"math"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Air is the air a crop wants around it in store.
type Air string

// The three ways produce is stored.
const (
	Moist Air = "moist" // roots, leaves: it wilts in dry air
	Dry   Air = "dry"   // onions, shallots, garlic, squash: it rots in damp air
	Any   Air = "any"
)

// Ethylene says what a crop has to do with the ripening gas.
type Ethylene string

// Ethylene roles.
const (
	Neither   Ethylene = ""
	Gives     Ethylene = "gives"
	Sensitive Ethylene = "sensitive"
)

// Number is a figure with its evidence.
type Number struct {
	Value  float64 `toml:"value"`
	Source string  `toml:"source"`
	Note   string  `toml:"note"`
}

// LifeAt is a storage life at one temperature, in days: Low and High are read
// as the 10th and 90th percentile of lots.
type LifeAt struct {
	AtC    float64 `toml:"at_c"`
	LowD   float64 `toml:"low_d"`
	HighD  float64 `toml:"high_d"`
	Source string  `toml:"source"`
	Note   string  `toml:"note"`
}

// Respiration in mg CO₂ per kg and hour at rising temperatures.
type Respiration struct {
	AtC    []float64 `toml:"at_c"`
	Mg     []float64 `toml:"mg"`
	Source string    `toml:"source"`
	Note   string    `toml:"note"`
}

// Best is the air a crop keeps longest in; humidity as a fraction.
type Best struct {
	LowC         float64 `toml:"low_c"`
	HighC        float64 `toml:"high_c"`
	HumidityLow  float64 `toml:"humidity_low"`
	HumidityHigh float64 `toml:"humidity_high"`
	Source       string  `toml:"source"`
	Note         string  `toml:"note"`
}

// Freezing is the highest freezing point of the produce, °C.
type Freezing struct {
	ValueC float64 `toml:"value_c"`
	Source string  `toml:"source"`
	Note   string  `toml:"note"`
}

// Transpiration is the water a skin lets through: kt in ng/(kg·s·Pa).
type Transpiration struct {
	Kt     float64 `toml:"kt"`
	Source string  `toml:"source"`
	Note   string  `toml:"note"`
}

// WaterLimit is the greatest loss, in % of mass, before a lot is unsaleable.
type WaterLimit struct {
	Percent float64 `toml:"percent"`
	Source  string  `toml:"source"`
	Note    string  `toml:"note"`
}

// ChillLimit is the temperature under which a tender crop is hurt unfrozen.
type ChillLimit struct {
	BelowC float64 `toml:"below_c"`
	Source string  `toml:"source"`
	Note   string  `toml:"note"`
}

// Cure is the drying of necks and skins before storage; Kt of the cured skin.
type Cure struct {
	Days   float64 `toml:"days"`
	Kt     float64 `toml:"kt"`
	Source string  `toml:"source"`
	Note   string  `toml:"note"`
}

// Entry is what the table knows of one crop.
type Entry struct {
	Name          string         `toml:"name"`
	Also          []string       `toml:"also"`
	Family        string         `toml:"family"`
	Air           Air            `toml:"air"`
	Ethylene      Ethylene       `toml:"ethylene"`
	Rooms         []string       `toml:"rooms"` // room kinds, best first
	Best          Best           `toml:"best"`
	Freezing      *Freezing      `toml:"freezing"`
	Life          []LifeAt       `toml:"life"`
	Respiration   *Respiration   `toml:"respiration"`
	Transpiration *Transpiration `toml:"transpiration"`
	WaterLimit    *WaterLimit    `toml:"water_limit"`
	Chill         *ChillLimit    `toml:"chill"`
	Cure          *Cure          `toml:"cure"`
	Ripening      *LifeAt        `toml:"ripening"`
	Freezer       *LifeAt        `toml:"freezer"`

	FromFamily bool `toml:"-"` // the family's figures, for want of the crop's own

	general *General
	sources map[string]source
}

// FreezingPoint is the highest freezing point; known is false where none is
// published, and then 0 °C, the safe side, is used.
func (e *Entry) FreezingPoint() (at unit.Celsius, known bool) {
	if e.Freezing == nil {
		return 0, false
	}
	return unit.Celsius(e.Freezing.ValueC), true
}

// RoomsAtHarvest lists the kinds of room a fresh harvest may go into, best
// first: what must cure goes into moving air and nowhere else.
func (e *Entry) RoomsAtHarvest() []string {
	if e.Cure != nil {
		return []string{farm.Airy}
	}
	return e.Rooms
}

var roomKinds = map[string]bool{
	farm.ColdStore: true, farm.Fridge: true, farm.Airy: true,
	farm.Freezer: true, farm.Ripening: true, farm.Cellar: true,
}

// check finds the first thing wrong with an entry.
func (e *Entry) check() error {
	fault := func(field, want string) error { return entryError{e.Name, field, want} }
	switch e.Air {
	case Moist, Dry, Any:
	default:
		return fault("air", "must be moist, dry or any")
	}
	switch e.Ethylene {
	case Neither, Gives, Sensitive:
	default:
		return fault("ethylene", "must be gives or sensitive, or left out")
	}
	if len(e.Rooms) == 0 {
		return fault("rooms", "must name at least one kind of room")
	}
	for _, r := range e.Rooms {
		if !roomKinds[r] {
			return fault("rooms", "must be of cold_store, fridge, airy, freezer, ripening, cellar")
		}
	}
	if err := e.checkFigures(fault); err != nil {
		return err
	}
	return e.checkSources(fault)
}

func (e *Entry) checkFigures(fault func(field, want string) error) error {
	b := e.Best
	if !(b.LowC <= b.HighC && 0 < b.HumidityLow && b.HumidityLow <= b.HumidityHigh && b.HumidityHigh <= 1) {
		return fault("best", "must have low_c ≤ high_c and humidity_low ≤ humidity_high within 0..1")
	}
	if len(e.Life) == 0 {
		return fault("life", "must have at least one figure")
	}
	for i, l := range e.Life {
		if !l.sound() {
			return fault("life", "must have 0 < low_d ≤ high_d")
		}
		if i > 0 && !(l.AtC > e.Life[i-1].AtC && l.median() <= e.Life[i-1].median()) {
			return fault("life", "must rise in temperature and not in days")
		}
	}
	if r := e.Respiration; r != nil && !r.sound() {
		return fault("respiration", "must have as many at_c as mg, at_c rising, mg above 0")
	}
	if e.Ripening != nil && !e.Ripening.sound() || e.Freezer == nil || !e.Freezer.sound() {
		return fault("ripening or freezer", "must have 0 < low_d ≤ high_d")
	}
	if e.Freezing != nil && !(e.Freezing.ValueC < 0 && e.Freezing.ValueC > -5) {
		return fault("freezing", "must lie between -5 and 0 °C")
	}
	if t := e.Transpiration; t != nil && !(t.Kt > 0) || e.WaterLimit != nil && !(e.WaterLimit.Percent > 0) {
		return fault("transpiration or water_limit", "must be above 0")
	}
	if e.Cure != nil && !(e.Cure.Days > 0 && e.Cure.Kt >= 0) {
		return fault("cure", "must have days above 0")
	}
	return nil
}

func (l LifeAt) sound() bool {
	return l.LowD > 0 && l.LowD <= l.HighD && !math.IsInf(l.HighD, 0) && !math.IsNaN(l.AtC)
}

func (r Respiration) sound() bool {
	if len(r.AtC) != len(r.Mg) || len(r.AtC) < 2 {
		return false
	}
	for i := range r.AtC {
		if !(r.Mg[i] > 0) || i > 0 && !(r.AtC[i] > r.AtC[i-1]) {
			return false
		}
	}
	return true
}

func (e *Entry) checkSources(fault func(field, want string) error) error {
	for _, f := range e.evidence() {
		if _, ok := e.sources[f.source]; !ok {
			return fault(f.name, "source "+f.source+" must be a key of [[source]]")
		}
	}
	return nil
}
