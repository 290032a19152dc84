// Package validation holds the ground model against stations that measured soil
// temperature: it runs the model over a station's own weather and prints how far
// it was off, winter by winter and depth by depth.
package validation

import (
	"fmt"
	"time"

	"winterstand/internal/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Station is a place with its readings, in order of time.
type Station struct {
	Name    string
	Site    microclimate.Site
	Surface microclimate.Surface
	Depths  []float64 // cm, of Row.Soil
	Rows    []Row
}

// Row is one hour: the weather, and the soil temperature at each of the station's
// depths at the end of the hour.
type Row struct {
	Hour weather.Hour
	Soil []unit.Maybe[unit.Celsius]
}

// Check refuses a station that cannot be run.
func (s *Station) Check() error {
	if len(s.Rows) == 0 {
		return fmt.Errorf("station %s: no rows", s.Name)
	}
	if len(s.Depths) == 0 {
		return fmt.Errorf("station %s: no soil temperature column", s.Name)
	}
	last := time.Time{}
	for i, r := range s.Rows {
		if !r.Hour.At.After(last) {
			return fmt.Errorf("station %s: %s: must be later than the row before", s.Name, r.Hour.At.Format(time.RFC3339))
		}
		if len(r.Soil) != len(s.Depths) {
			return fmt.Errorf("station %s: row %d: %d soil temperatures for %d depths", s.Name, i+1, len(r.Soil), len(s.Depths))
		}
		last = r.Hour.At
	}
	return s.Site.Check()
}
