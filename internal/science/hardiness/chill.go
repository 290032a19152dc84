package hardiness

import (
	"math"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// chillPower is the steepness of damage against hours: a short night below the
// threshold does next to nothing, a cold spell without a warm day much. Own
// default.
const chillPower = 4

// chill counts the hours below the chilling threshold. Warm hours take the
// count back at the same pace, since warming in between lets chilled tissue
// recover (intermittent warming; Lyons 1973, Annual Review of Plant Physiology
// 24, from memory; the pace is an own default). Damage is to what is sold, and
// within a spell only the deepest counts.
func chill(c crop.Chill, s State, t unit.Celsius) State {
	if t >= c.Below {
		s.ChillHours = max(0, s.ChillHours-1)
		if s.ChillHours == 0 {
			s.ChillDamage = 0
		}
		return s
	}
	s.ChillHours++
	if d := chillDamage(s.ChillHours, c.Hours); d > s.ChillDamage {
		s.Quality = deepen(s.Quality, s.ChillDamage, d)
		s.ChillDamage = d
	}
	return s
}

// chillDamage is the share lost after hours of chill where half hours lose half.
func chillDamage(hours, half float64) float64 {
	r := math.Pow(hours/half, chillPower)
	switch d := r / (1 + r); {
	case d < clip:
		return 0
	case d > 1-clip:
		return 1
	default:
		return d
	}
}
