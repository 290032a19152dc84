package nws

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Gridpoint is a raw grid document.
type Gridpoint struct {
	Forecast weather.Forecast
	polygon  [][2]float64 // longitude, latitude; empty when the document has none
}

// shape says what the values of a layer are.
type shape int

const (
	runs    shape = iota // run-length coded: one value for each hour of the interval
	extreme              // one extreme of the interval
	total                // one total of the interval
)

// layers that are read, by the service's name; the rest is ignored.
var layers = []struct {
	name     string
	quantity weather.Quantity
	shape    shape
}{
	{"temperature", weather.Air, runs},
	{"dewpoint", weather.DewPoint, runs},
	{"relativeHumidity", weather.Humidity, runs},
	{"skyCover", weather.Cloud, runs},
	{"windSpeed", weather.Wind, runs},
	{"minTemperature", weather.AirMin, extreme},
	{"maxTemperature", weather.AirMax, extreme},
	{"quantitativePrecipitation", weather.Precip, total},
	{"snowfallAmount", weather.Snowfall, total},
}

type header struct {
	UpdateTime string       `json:"updateTime"`
	Elevation  quantity     `json:"elevation"`
	GridID     string       `json:"gridId"`
	GridX      fetch.Number `json:"gridX"`
	GridY      fetch.Number `json:"gridY"`
}

// ParseGridpoint reads a raw grid. A layer that cannot be relied on is refused
// by name and the rest kept; an error is returned only for a document whose
// frame is broken. The first hours lie before updateTime: they are forecast all
// the same, not observation.
func ParseGridpoint(body []byte) (Gridpoint, error) {
	props, geometry, err := content(body)
	if err != nil {
		return Gridpoint{}, err
	}
	var h header
	var raw map[string]json.RawMessage
	if err := errors.Join(json.Unmarshal(props, &h), json.Unmarshal(props, &raw)); err != nil {
		return Gridpoint{}, fmt.Errorf("properties: %w", err)
	}
	issued, err := parseTime(h.UpdateTime)
	if err != nil {
		return Gridpoint{}, fmt.Errorf("properties.updateTime: %w", err)
	}
	f := weather.Forecast{
		Source: name, Place: h.place(), Issued: issued, Credit: Credit,
		Elevation: h.Elevation.metres(), Layers: map[weather.Quantity][]weather.Interval{},
	}
	for _, l := range layers {
		values, err := readLayer(raw[l.name], l.quantity, l.shape)
		switch {
		case err != nil:
			f.Refused = append(f.Refused, fetch.Refused(l.name, err))
		case len(values) > 0:
			f.Layers[l.quantity] = values
		}
	}
	g := Gridpoint{Forecast: f}
	g.polygon, err = parsePolygon(geometry)
	if err != nil {
		g.Forecast.Warnings = append(g.Forecast.Warnings, "cell outline: "+err.Error())
	}
	g.Forecast.Latitude, g.Forecast.Longitude = centre(g.polygon)
	return g, nil
}

func (h header) place() string {
	x, _ := h.GridX.Get()
	y, _ := h.GridY.Get()
	return fmt.Sprintf("%s/%g,%g", h.GridID, x, y)
}

// quantity is a single value with its unit.
type quantity struct {
	UnitCode string       `json:"unitCode"`
	Value    fetch.Number `json:"value"`
	Control  string       `json:"qualityControl"`
}

// metres reads a height; missing when the unit is not one of length.
func (q quantity) metres() unit.Maybe[float64] {
	v, ok := q.Value.Get()
	switch {
	case !ok:
	case label(q.UnitCode) == "m":
		return unit.Some(v)
	case label(q.UnitCode) == "ft":
		return unit.Some(v * 0.3048)
	}
	return unit.None[float64]()
}

// label strips the vocabulary before a unit: "wmoUnit:degC", "unit:degC", a URL.
func label(code string) string { return code[strings.LastIndexAny(code, ":/")+1:] }

type layer struct {
	UOM    string `json:"uom"`
	Values []struct {
		ValidTime string       `json:"validTime"`
		Value     fetch.Number `json:"value"`
	} `json:"values"`
}

// readLayer gives nothing for a layer that is absent or empty.
func readLayer(raw json.RawMessage, q weather.Quantity, s shape) ([]weather.Interval, error) {
	if len(raw) == 0 || string(raw) == "null" {
		return nil, nil
	}
	var l layer
	if err := json.Unmarshal(raw, &l); err != nil {
		return nil, fmt.Errorf("not a layer: %w", err)
	}
	if len(l.Values) == 0 {
		return nil, nil
	}
	if !fetch.KnownLabel(q, label(l.UOM)) {
		return nil, fetch.UnknownUnit(l.UOM, fetch.Labels(q)...)
	}
	out := make([]weather.Interval, 0, len(l.Values))
	for i, v := range l.Values {
		iv, err := readInterval(v.ValidTime, v.Value, q, label(l.UOM))
		if err != nil {
			return nil, fmt.Errorf("values[%d]: %w", i, err)
		}
		out = append(out, iv)
	}
	return finish(out, s)
}

func readInterval(valid string, n fetch.Number, q weather.Quantity, unitLabel string) (weather.Interval, error) {
	start, end, err := parseInterval(valid)
	if err != nil {
		return weather.Interval{}, fmt.Errorf("validTime: %w", err)
	}
	iv := weather.Interval{Start: start, End: end}
	if v, ok := n.Get(); ok {
		x, err := fetch.Convert(q, unitLabel, v)
		if err != nil {
			return iv, err
		}
		iv.Value = unit.Some(x)
	}
	return iv, nil
}

// finish orders a layer and expands it where its values stand for every hour.
// Runs may overlap where they say the same; extremes and totals may not.
func finish(values []weather.Interval, s shape) ([]weather.Interval, error) {
	if s != runs {
		return fetch.Ordered(values)
	}
	for _, iv := range values {
		if _, err := fetch.Ordered([]weather.Interval{iv}); err != nil {
			return nil, err
		}
	}
	hours := fetch.ByHour(values)
	slices.SortStableFunc(hours, func(a, b weather.Interval) int { return a.Start.Compare(b.Start) })
	return fetch.Ordered(hours)
}

// centre is the mean of a polygon's corners, the last of which repeats the first.
func centre(polygon [][2]float64) (latitude, longitude float64) {
	if len(polygon) < 4 {
		return 0, 0
	}
	corners := polygon[:len(polygon)-1]
	for _, c := range corners {
		longitude += c[0] / float64(len(corners))
		latitude += c[1] / float64(len(corners))
	}
	return latitude, longitude
}

// parseTime reads an RFC 3339 time and gives it in UTC.
func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("%q: must be a time like 2026-01-11T17:00:00+00:00", s)
	}
	return t.UTC(), nil
}
