// Package validation holds the ground model against stations that measured soil
// temperature: it runs the model over a station's own weather and prints how far
// it was off, winter by winter and depth by depth.
package validation

import (
	"fmt"
	"time"

	"winterstand/internal/science/microclimate"
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
	for i := range s.Rows {
		if err := s.checkRow(i); err != nil {
			return fmt.Errorf("station %s: row %d: %w", s.Name, i+1, err)
		}
	}
	return s.Site.Check()
}

// longestHole is how far two rows may lie apart.
const longestHole = 366 * 24 * time.Hour

func (s *Station) checkRow(i int) error {
	at := s.Rows[i].Hour.At
	if !at.Equal(at.Truncate(time.Hour)) {
		return fmt.Errorf("time %s: must be a full hour", at.Format(time.RFC3339))
	}
	if n := len(s.Rows[i].Soil); n != len(s.Depths) {
		return fmt.Errorf("%d soil temperatures for %d depths", n, len(s.Depths))
	}
	if i == 0 {
		return nil
	}
	switch since := at.Sub(s.Rows[i-1].Hour.At); {
	case since <= 0:
		return fmt.Errorf("time %s: must be later than that of the row before", at.Format(time.RFC3339))
	case since > longestHole:
		return fmt.Errorf("time %s: more than a year after the row before", at.Format(time.RFC3339))
	}
	return nil
}
