package scene

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// ZoneOf is the zone that a field's days and clocks are in.
func ZoneOf(f farm.Field, owner farm.Farm, cell store.Cell) *time.Location {
	for _, name := range []string{f.TimeZone, cell.TimeZone, owner.TimeZone} {
		if name == "" {
			continue
		}
		if z, err := time.LoadLocation(name); err == nil {
			return z
		}
	}
	return time.UTC
}
