package crop

import "winterstand/internal/unit"

// spec is what a figure of the catalogue may be: its unit, the temperature it
// may speak of, and the range beyond which it must be a slip of the pen.
type spec struct {
	name      string
	kind      quantity
	low, high float64 // in °C, K, cm, h or 1/d
	need      need
}

type quantity int

const (
	temperature quantity = iota // °C or °F, with a basis
	difference                  // K
	length                      // cm
	duration                    // h
	pace                        // 1/d
)

// units a quantity may be written in, and the one it is kept in last.
var units = map[quantity][]string{
	temperature: {"°F", "°C"},
	difference:  {"K"},
	length:      {"cm"},
	duration:    {"h"},
	pace:        {"1/d"},
}

type need int

const (
	optional need = iota
	always
	common   // in the entry or in [common]
	inGround // for root and bulb
	withCold // once any figure of its group (crown_, chill_) is given
)

// specs lists every figure, in the order in which people read them.
var specs = []spec{
	{"unhardened", temperature, -12, 2, always},
	{"cold", temperature, -18, 2, always},
	{"full", temperature, -25, 2, always},
	{"rate", pace, 0, 2, always},
	{"loss_rate", pace, 0.1, 3, common},
	{"width", difference, 0.1, 3, common},
	{"margin", difference, 0, 5, always},
	{"spread", difference, 0.2, 5, always},
	{"start", temperature, -20, 15, optional},
	{"kill_unhardened", temperature, -20, 5, optional},
	{"kill_hardened", temperature, -30, 5, optional},
	{"freezes", temperature, -5, 0, inGround},
	{"chill_below", temperature, 0.5, 15, withCold},
	{"chill_hours", duration, 1, 2000, withCold},
	{"crown_unhardened", temperature, -15, 0, withCold},
	{"crown_cold", temperature, -20, 0, withCold},
	{"crown_full", temperature, -30, 0, withCold},
	{"crown_rate", pace, 0, 2, withCold},
	{"crown_depth", length, 0, 20, withCold},
	{"height", length, 1, 300, always},
	{"lowest", length, 0, 200, always},
	{"root_depth", length, 0.5, 40, inGround},
	{"shoulder_depth", length, 0.5, 15, inGround},
	{"tops", length, 0, 10, optional},
}

// ListDepression is how much colder a leaf is than the screen air on the night
// that kills it. A list speaks of air; taken off once, when the catalogue is
// loaded, so that radiation is counted once, by the leaf model. Own default,
// within the 1–3 K of Leuning & Cremer 1987, Agricultural and Forest
// Meteorology 42:121.
const ListDepression unit.Kelvins = 1

func specOf(name string) (spec, bool) {
	for _, s := range specs {
		if s.name == name {
			return s, true
		}
	}
	return spec{}, false
}

func specNames() []string {
	names := make([]string, len(specs))
	for i, s := range specs {
		names[i] = s.name
	}
	return names
}
