package microclimate

import (
	"fmt"
	"math"

	"winterstand/internal/unit"
)

// Cover is what is put over a bed.
type Cover string

// The covers, from none to the heaviest.
const (
	NoCover          Cover = "none"
	RowCoverLight    Cover = "row_cover_light"
	RowCoverHeavy    Cover = "row_cover_heavy"
	LowTunnel        Cover = "low_tunnel"
	LowTunnelFabric  Cover = "low_tunnel_fabric"
	ColdFrame        Cover = "cold_frame"
	HighTunnel       Cover = "high_tunnel"
	HighTunnelFabric Cover = "high_tunnel_fabric"
)

// Covers lists every key.
func Covers() []Cover {
	return []Cover{NoCover, RowCoverLight, RowCoverHeavy, LowTunnel, LowTunnelFabric, ColdFrame, HighTunnel, HighTunnelFabric}
}

// ParseCover reads a key; empty is none.
func ParseCover(s string) (Cover, error) {
	if s == "" {
		return NoCover, nil
	}
	if _, ok := shelters[Cover(s)]; !ok {
		return "", fmt.Errorf("cover %q: must be one of %s", s, joined(Covers()))
	}
	return Cover(s), nil
}

// Shelter is what a cover does.
type Shelter struct {
	NightGain unit.Kelvins // how much warmer the night minimum under it is
	Spread    unit.Kelvins // σ of that gain: half of it
	Source    string

	DayGain   float64 // K for each W/m² of sun outside
	Sun       float64 // share of sunlight let through
	Sky       float64 // share of the cold sky the soil under it sees
	Wind      float64 // share of the wind that blows under it
	FailsWind bool    // loses its gain in wind
	KeepsSnow bool    // keeps snow off the bed

	Cautions []Caution // for people's safety, whatever the weather
}

// Gains are night minima against open ground. Floating covers measured in Oregon
// in 1983–84 gave only +0.2 to +1.8 K in the mean of a season and were at times
// colder than the open on clear nights, hence the wide spread of every gain. One cover inside another has its
// own measured figure; gains are never added. Day gains, light and wind shares
// are own defaults in the range of published row-cover and tunnel work.
var shelters = map[Cover]Shelter{
	NoCover: {Source: "open ground", Sun: 1, Sky: 1, Wind: 1},
	RowCoverLight: {NightGain: 1.35, Source: "spun-bonded 17–19 g/m²: 1–1.7 K (extension bulletins on floating covers)",
		DayGain: 0.006, Sun: 0.85, Sky: 0.7, Wind: 0.4, FailsWind: true},
	RowCoverHeavy: {NightGain: 2.8, Source: "fabric of 42 g/m² and more: about 2.8 K (extension bulletins on floating covers)",
		DayGain: 0.010, Sun: 0.6, Sky: 0.5, Wind: 0.2},
	LowTunnel: {NightGain: 1.5, Source: "clear plastic low tunnel: 1–2 K (extension bulletins)",
		DayGain: 0.018, Sun: 0.8, Sky: 0.6, Wind: 0.15, Cautions: []Caution{SnowLoad}},
	LowTunnelFabric: {NightGain: 5, Source: "low tunnel with fabric inside: about 5 K (extension bulletins)",
		DayGain: 0.020, Sun: 0.55, Sky: 0.3, Wind: 0.1, Cautions: []Caution{SnowLoad}},
	ColdFrame: {NightGain: 4, Source: "cold frame: 3–5 K (from memory)",
		DayGain: 0.020, Sun: 0.8, Sky: 0.3, Wind: 0.05, Cautions: []Caution{SnowLoad}},
	HighTunnel: {NightGain: 1, Source: "unheated high tunnel on clear nights: 0–2 K (from memory)",
		DayGain: 0.018, Sun: 0.75, Sky: 0.6, Wind: 0.05, KeepsSnow: true, Cautions: []Caution{SnowLoad, ClosedAir}},
	HighTunnelFabric: {NightGain: 4.5, Source: "fabric inside an unheated high tunnel: 3–6 K, less than the sum of both with a low tunnel (own default)",
		DayGain: 0.020, Sun: 0.5, Sky: 0.3, Wind: 0.03, KeepsSnow: true, Cautions: []Caution{SnowLoad, ClosedAir}},
}

// Shelter of the cover, its spread filled in; an unknown key is none (ParseCover
// refuses it before).
func (c Cover) Shelter() Shelter {
	s, ok := shelters[c]
	if !ok {
		s = shelters[NoCover]
	}
	s.Spread = s.NightGain / 2
	return s
}

// GainAt is the night gain for a standard normal draw z: mean + z·σ and never
// below zero. z = 0 is the typical gain.
func (s Shelter) GainAt(z float64) unit.Kelvins {
	return unit.Kelvins(math.Max(0, float64(s.NightGain)+z*float64(s.Spread)))
}

// GainAt is the cover's night gain for a standard normal draw z.
func (c Cover) GainAt(z float64) unit.Kelvins { return c.Shelter().GainAt(z) }

// Light fabric keeps its gain up to 1 m/s at 2 m and has lost it at 4 m/s (own
// default; fabric lies on the crop and is pressed through by wind).
const (
	fabricFullMS = 1.0
	fabricNoneMS = 4.0
)

// Growers open covers in the sun: warming above this air temperature is vented
// (own default).
const ventedC = 22.0

// gainAt is the difference of the air under the cover to the air outside.
func (s *Shelter) gainAt(z, airC, wind2MS, sunWm2 float64) float64 {
	night := float64(s.GainAt(z))
	if s.FailsWind {
		night *= math.Max(0, math.Min(1, (fabricNoneMS-wind2MS)/(fabricNoneMS-fabricFullMS)))
	}
	return math.Max(night, math.Min(night+s.DayGain*sunWm2, ventedC-airC))
}
