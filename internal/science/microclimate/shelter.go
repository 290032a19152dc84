package microclimate

import "math"

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
