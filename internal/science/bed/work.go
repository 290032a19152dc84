package bed

import (
	"time"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// thawedFor is how long leaves must have been above 0 °C before they are cut:
// frozen leaves bruise when they are handled (common practice, no source).
const thawedFor = 2

// Sunlit tells for each hour whether there is light to work by: the sun is up at
// both ends of it.
func Sunlit(site *microclimate.Site, hours []weather.Hour) []bool {
	out := make([]bool, len(hours))
	for i, h := range hours {
		out[i] = microclimate.SunUp(h.At, site.Latitude, site.Longitude) &&
			microclimate.SunUp(h.At.Add(time.Hour), site.Latitude, site.Longitude)
	}
	return out
}

// Workable tells for each hour of a course whether the plant can be harvested:
// the sun is up, the crew is safe, leaves are thawed or the ground is diggable,
// and snow does not hide it.
func Workable(p *Plant, site *microclimate.Site, hours []weather.Hour, c *Course, l Limits) []bool {
	return WorkableIn(Sunlit(site, hours), p, hours, c, l)
}

// WorkableIn is Workable where the light is known, which is the same for all
// courses of a place.
func WorkableIn(sunlit []bool, p *Plant, hours []weather.Hour, c *Course, l Limits) []bool {
	out := make([]bool, len(hours))
	thawed := c.Thawed
	for i, h := range hours {
		thawed = thawedHours(thawed, c.Sold[i])
		out[i] = sunlit[i] && safe(h, unit.Celsius(c.Air[i]), l) && reachable(p, c, i, thawed, l)
	}
	return out
}

func thawedHours(before int, tissue float32) int {
	if tissue > 0 {
		return before + 1
	}
	return 0
}

// safe: an unknown wind counts as still air in the wind chill formula, which is
// undefined there and gives the air temperature.
func safe(h weather.Hour, air unit.Celsius, l Limits) bool {
	return microclimate.WindChill(air, h.Wind.Else(0)) > l.WindChill
}

func reachable(p *Plant, c *Course, i, thawed int, l Limits) bool {
	if p.Crop.Organ.AboveGround() {
		return thawed >= thawedFor && float64(c.Snow[i]) < p.Crop.HeightCm
	}
	return float64(c.Frost[i]) < l.CrustCm && float64(c.Snow[i]) < l.SnowCm
}
