// Package crop holds the catalogue: what each crop stands, and where every
// figure comes from. Thresholds inside are tissue temperatures; a list figure
// (screen air) was lowered once, when the catalogue was loaded.
package crop

import "winterstand/internal/unit"

// Organ is the part of the plant a figure speaks of.
type Organ string

// Organs. Leaf stands for every part above ground that is sold; Fruit dies with
// the first frost; Root is judged at its shoulder, in the soil.
const (
	Leaf  Organ = "leaf"
	Head  Organ = "head"
	Stem  Organ = "stem"
	Fruit Organ = "fruit"
	Root  Organ = "root"
	Bulb  Organ = "bulb"
	Crown Organ = "crown"
)

// AboveGround tells whether the organ lives at leaf temperature.
func (o Organ) AboveGround() bool { return o != Root && o != Bulb && o != Crown }

// Basis says what temperature a figure is.
type Basis string

// Bases of a figure.
const (
	ScreenAir Basis = "screen_air" // night minimum at 2 m, as a grower reads it
	Tissue    Basis = "tissue"
	SoilBasis Basis = "soil"
	NoBasis   Basis = "" // not a temperature
)

// Mark says how a figure is known.
type Mark string

// Marks.
const (
	FromSource    Mark = "source"          // read in the named source
	FromSecondary Mark = "secondary"       // read in a copy that names the source
	FromMemory    Mark = "memory"          // not verified
	OwnDefault    Mark = "default"         // our working default
	Practice      Mark = "common practice" // no source
)

// Figure is one number of the catalogue as it was written, with its evidence.
type Figure struct {
	Name       string  `json:"name"`
	Value      float64 `json:"value"`
	Unit       string  `json:"unit"`
	Basis      Basis   `json:"basis,omitempty"`
	Mark       Mark    `json:"mark"`
	Source     string  `json:"source"`     // in full, after its short code
	Confidence string  `json:"confidence"` // high, medium, low
	Note       string  `json:"note,omitempty"`

	Codes []string `json:"codes"` // the short codes of Source
}

// Evidence is what a source says of a crop without a number.
type Evidence struct {
	Source string `json:"source"` // short code
	Mark   Mark   `json:"mark"`
	Says   string `json:"says"`
}

// Hardening is how an organ's LT50 moves : see package hardiness. Tissue terms.
type Hardening struct {
	Unhardened unit.Celsius // L0
	Cold       unit.Celsius // L1, after above-freezing cold
	Full       unit.Celsius // Lm
	Rate       float64      // kh, 1/day; 0: does not harden
	LossRate   float64      // kd at 20 °C, 1/day
	Width      unit.Kelvins // b of the injury logistic
}

// Chill is injury above freezing.
type Chill struct {
	Below unit.Celsius
	Hours float64 // hours below it that lose half
}

// Lists are the working figures of growers' lists in their own terms, for
// reading and for a plain rule to compare with. The service does not decide on
// them.
type Lists struct {
	Start          unit.Maybe[unit.Celsius] // first marketable damage
	KillUnhardened unit.Maybe[unit.Celsius]
	KillHardened   unit.Maybe[unit.Celsius]
	Basis          Basis
}

// Crop is one catalogue entry.
type Crop struct {
	Name     string            // key: "kale-curly"
	Aliases  []string          // other names it is found by
	Titles   map[string]string // language → what people call it
	Family   string            // leaf, herb, allium, cole, root, fruit, legume: how it is handled
	Organ    Organ             // what is sold
	HeightCm float64           // of the standing crop, for snow over it
	Cautions []Caution         // for people's safety, whatever the weather
	LowCm    float64           // height of the lowest part that must be reached; snow above slows harvest

	Sold   Hardening    // of the sold organ; for Root and Bulb the tissue's freezing behaviour
	Margin unit.Kelvins // market quality goes this much above LT50
	Spread unit.Kelvins // σ of the tolerance between plants, farms and lists
	Chill  unit.Maybe[Chill]

	// Regrows: the crown may live when the leaves are lost.
	Regrow  unit.Maybe[Hardening]
	CrownCm float64 // depth of the crown; judged at the soil's temperature there

	// Root and Bulb only.
	Freezes    unit.Maybe[unit.Celsius] // tissue freezing point
	DepthCm    float64                  // of the middle of the root
	ShoulderCm float64                  // depth of the shoulder layer
	TopsCm     float64                  // old leaves matted over the shoulder, as so much straw laid; 0: none

	Lists    Lists             // what a grower's list would say, not lowered
	Figures  []Figure          // every number as it was written
	Evidence []Evidence        // what sources say without a number
	Sources  map[string]string // short code → source in full, those of this entry
	Conflict string            // where lists disagree, both sides
	Remark   string            // why the numbers are what they are
	Review   bool              // rests on one list from memory: needs a human look
}

// Title is the name in a language, English where there is none.
func (c Crop) Title(language string) string {
	if t, ok := c.Titles[language]; ok {
		return t
	}
	return c.Titles[fallback]
}

// fallback is the language of the titles that every crop has.
const fallback = "en"

// ListThreshold is the screen air at which a grower's list sees the first damage;
// missing where the list speaks of something else than the air.
func (c Crop) ListThreshold() unit.Maybe[unit.Celsius] {
	if c.Lists.Basis != ScreenAir {
		return unit.None[unit.Celsius]()
	}
	return c.Lists.Start
}
