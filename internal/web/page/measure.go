package page

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"winterstand/internal/unit"
)

// measure is how a number is written on a form: SI inside, the reader's units on
// the page. SI = (x - offset) × factor.
type measure struct {
	unit           string // as it stands behind the box; may be empty
	offset, factor float64
	digits         int
}

// Exact by definition: international foot (1959).
const metresPerFoot = 0.3048

var (
	plainNumber = measure{factor: 1, digits: 6}
	percent     = measure{unit: "%", factor: 0.01, digits: 1}
)

func inHours() measure { return measure{unit: "h", factor: 1, digits: 2} }

// measures of a system of units.
func temperatureIn(s unit.System) measure {
	if s == unit.US {
		return measure{unit: "°F", offset: 32, factor: 1 / 1.8, digits: 1}
	}
	return measure{unit: "°C", factor: 1, digits: 1}
}

func differenceIn(s unit.System) measure {
	if s == unit.US {
		return measure{unit: "°F", factor: 1 / 1.8, digits: 1}
	}
	return measure{unit: "K", factor: 1, digits: 1}
}

func massIn(s unit.System) measure {
	if s == unit.US {
		return measure{unit: "lb", factor: unit.KilogramsPerPound, digits: 1}
	}
	return measure{unit: "kg", factor: 1, digits: 1}
}

func depthIn(s unit.System) measure {
	if s == unit.US {
		return measure{unit: "in", factor: unit.CentimetresPerInch, digits: 1}
	}
	return measure{unit: "cm", factor: 1, digits: 1}
}

func heightIn(s unit.System) measure {
	if s == unit.US {
		return measure{unit: "ft", factor: metresPerFoot, digits: 0}
	}
	return measure{unit: "m", factor: 1, digits: 0}
}

func pricePerMassIn(s unit.System, currency string) measure {
	m := massIn(s)
	return measure{unit: currency + "/" + m.unit, factor: 1 / m.factor, digits: 2}
}

func massRateIn(s unit.System, per string) measure {
	m := massIn(s)
	return measure{unit: m.unit + per, factor: m.factor, digits: 1}
}

// write is a value of SI as it stands in a box.
func (m measure) write(si float64) string {
	p := math.Pow(10, float64(m.digits))
	v := math.Round((si/m.factor+m.offset)*p) / p
	if v == 0 {
		v = 0 // no minus zero
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// thousands may be a thousand or a decimal: nobody's harvest is guessed at.
var thousands = regexp.MustCompile(`^-?[1-9][0-9]{0,2},[0-9]{3}$`)

// read takes a number as people write it, with a point or a comma, and gives SI.
func (m measure) read(s string) (float64, bool) {
	s = strings.ReplaceAll(strings.TrimSpace(s), "−", "-")
	if thousands.MatchString(s) {
		return 0, false
	}
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(s, "xXpP_") {
		return 0, false
	}
	return (v - m.offset) * m.factor, true
}
