package nws

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
)

// feature is the outer shape of the service's documents: GeoJSON, with the
// content under properties, or JSON-LD, with the content at the root.
type feature struct {
	Properties json.RawMessage `json:"properties"`
	Geometry   json.RawMessage `json:"geometry"`
}

// content gives the properties and the geometry of a document of either shape.
func content(body []byte) (properties, geometry json.RawMessage, err error) {
	var f feature
	if err := json.Unmarshal(body, &f); err != nil {
		return nil, nil, fmt.Errorf("not a JSON object: %w", err)
	}
	if len(f.Properties) == 0 || string(f.Properties) == "null" {
		return body, f.Geometry, nil
	}
	return f.Properties, f.Geometry, nil
}

type point struct {
	GridID   string       `json:"gridId"`
	GridX    fetch.Number `json:"gridX"`
	GridY    fetch.Number `json:"gridY"`
	Type     string       `json:"type"`
	TimeZone string       `json:"timeZone"`

	GridData string `json:"forecastGridData"`
	Hourly   string `json:"forecastHourly"`
	Forecast string `json:"forecast"`
	Stations string `json:"observationStations"`

	Zone   string `json:"forecastZone"`
	County string `json:"county"`
	Fire   string `json:"fireWeatherZone"`
}

// ParsePoint reads a /points document. ErrOutside for a place at sea or without
// a grid.
func ParsePoint(body []byte) (forecast.Cell, error) {
	props, _, err := content(body)
	if err != nil {
		return forecast.Cell{}, err
	}
	var p point
	if err := json.Unmarshal(props, &p); err != nil {
		return forecast.Cell{}, fmt.Errorf("properties: %w", err)
	}
	if marine(p.Type) {
		return forecast.Cell{}, fmt.Errorf("%w: it is a marine point", forecast.ErrOutside)
	}
	x, okX := p.GridX.Get()
	y, okY := p.GridY.Get()
	if p.GridData == "" || p.GridID == "" || !okX || !okY {
		return forecast.Cell{}, fmt.Errorf("%w: it has no forecast grid", forecast.ErrOutside)
	}
	if !strings.Contains(p.GridData, "/gridpoints/") {
		return forecast.Cell{}, errors.New("properties.forecastGridData: must be a /gridpoints/ link")
	}
	return forecast.Cell{
		Source: name, Key: fmt.Sprintf("%s:%s/%g,%g", name, p.GridID, x, y), TimeZone: p.TimeZone,
		Meta: forecast.Meta{URLs: p.urls(), Zones: p.zones()},
	}, nil
}

func marine(kind string) bool { return strings.Contains(strings.ToLower(kind), "marine") }

func (p point) urls() map[string]string {
	out := map[string]string{}
	for k, v := range map[string]string{
		"forecastGridData": p.GridData, "forecastHourly": p.Hourly, "forecast": p.Forecast, "observationStations": p.Stations,
	} {
		if v != "" {
			out[k] = v
		}
	}
	return out
}

// zones are the last segments of the zone links, which warnings name.
func (p point) zones() []string {
	var out []string
	for _, link := range []string{p.Zone, p.County, p.Fire} {
		if z := lastSegment(link); z != "" {
			out = append(out, z)
		}
	}
	return out
}

func lastSegment(link string) string { return link[strings.LastIndex(link, "/")+1:] }

// ParseStations reads the station list of a cell, nearest first.
func ParseStations(body []byte) ([]string, error) {
	var list struct {
		Features []struct {
			Properties struct {
				ID string `json:"stationIdentifier"`
			} `json:"properties"`
		} `json:"features"`
	}
	if err := json.Unmarshal(body, &list); err != nil {
		return nil, fmt.Errorf("stations: %w", err)
	}
	var ids []string
	for _, f := range list.Features {
		if stationID.MatchString(f.Properties.ID) {
			ids = append(ids, f.Properties.ID)
		}
	}
	if len(ids) == 0 {
		return nil, errors.New("stations: the list is empty")
	}
	return ids, nil
}
