// Package weather holds hours of weather and forecasts as plain values, in SI.
// It knows no service, no clock and no file.
package weather

import (
	"time"

	"winterstand/internal/unit"
)

// Hour is the weather over open ground for [At, At+1 h), At on a full UTC hour.
// Every quantity may be missing; missing is never zero.
type Hour struct {
	At        time.Time                `json:"at"`
	Air       unit.Maybe[unit.Celsius] `json:"air_c,omitzero"`       // at 2 m
	DewPoint  unit.Maybe[unit.Celsius] `json:"dew_point_c,omitzero"` // at 2 m
	Wind      unit.Maybe[float64]      `json:"wind_ms,omitzero"`     // at 10 m, m/s
	Cloud     unit.Maybe[float64]      `json:"cloud_fraction,omitzero"`
	Precip    unit.Maybe[float64]      `json:"precip_mm,omitzero"` // liquid equivalent in the hour
	SnowDepth unit.Maybe[float64]      `json:"snow_depth_cm,omitzero"`
	Shortwave unit.Maybe[float64]      `json:"shortwave_wm2,omitzero"` // mean over the hour, horizontal
}

// Origin tells where an hour of history came from; a later entry of the list
// overrides an earlier one for the same hour.
type Origin string

// From weakest to strongest.
const (
	Analysis    Origin = "analysis"    // the last forecast issued for an hour that has passed
	Reanalysis  Origin = "reanalysis"  // a service's own past hours
	Observation Origin = "observation" // a station
	Import      Origin = "import"      // the grower's own file
)

// Quantity names a forecast layer, in the unit that stands beside it.
type Quantity string

// The layers of the internal model.
const (
	Air       Quantity = "air"        // °C, instant at the start of the interval, held through it
	AirMin    Quantity = "air_min"    // °C, minimum within the interval
	AirMax    Quantity = "air_max"    // °C, maximum within the interval
	AirP10    Quantity = "air_p10"    // °C, 10th percentile of Air
	AirP90    Quantity = "air_p90"    // °C, 90th percentile of Air
	DewPoint  Quantity = "dew_point"  // °C
	Humidity  Quantity = "humidity"   // fraction 0..1
	Wind      Quantity = "wind"       // m/s at 10 m
	Cloud     Quantity = "cloud"      // fraction 0..1
	Precip    Quantity = "precip"     // mm liquid equivalent, total of the interval
	Snowfall  Quantity = "snowfall"   // mm depth of new snow, total of the interval
	SnowDepth Quantity = "snow_depth" // cm
	Shortwave Quantity = "shortwave"  // W/m², mean of the interval
)

// Interval is one value of a layer for [Start, End).
type Interval struct {
	Start time.Time           `json:"start"`
	End   time.Time           `json:"end"`
	Value unit.Maybe[float64] `json:"value"`
}

// Member is one ensemble member: its own course of Air.
type Member struct {
	Name string     `json:"name"`
	Air  []Interval `json:"air"`
}

// Refusal names a layer that was left out and why.
type Refusal struct {
	Layer  string `json:"layer"`
	Reason string `json:"reason"`          // for the log
	Why    Doubt  `json:"why,omitempty"`   // empty: of before doubts had names
	Quote  string `json:"quote,omitempty"` // what stands there, in the source's own words
}

// Doubt is why a layer cannot be trusted.
type Doubt string

// Doubts. A layer that is not even in the form of one is unreadable.
const (
	BadUnit    Doubt = "unit"
	BadValue   Doubt = "value"
	BadTime    Doubt = "time"
	Unreadable Doubt = "form"
)

// Doubts lists every doubt.
func Doubts() []Doubt { return []Doubt{BadUnit, BadValue, BadTime, Unreadable} }

// Forecast is one issued point forecast. Layers are sorted by Start and may
// have holes and different horizons: join them by time, never by index.
type Forecast struct {
	Source    string                  `json:"source"` // "nws", "metno", "openmeteo"
	Place     string                  `json:"place"`  // the source's own name of the point, "FGZ/74,89"
	Latitude  float64                 `json:"latitude"`
	Longitude float64                 `json:"longitude"`
	Elevation unit.Maybe[float64]     `json:"elevation_m,omitzero"` // of the source's cell
	Issued    time.Time               `json:"issued"`
	Layers    map[Quantity][]Interval `json:"layers"`
	Members   []Member                `json:"members,omitempty"`
	Refused   []Refusal               `json:"refused,omitempty"`
	Warnings  []string                `json:"warnings,omitempty"`
	Credit    string                  `json:"credit"` // what the licence asks to be shown
}
