package nws

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"winterstand/internal/forecast"
)

// edge widens a cell by this many degrees (about 100 m), since corners are
// rounded and a field may lie on the border. Own default.
const edge = 0.001

// Holds tells whether a point lies in the cell; true when the document draws no
// outline, since nothing then speaks against it.
func (g Gridpoint) Holds(p forecast.Point) bool {
	if len(g.polygon) == 0 {
		return true
	}
	for _, d := range [][2]float64{{0, 0}, {edge, 0}, {-edge, 0}, {0, edge}, {0, -edge}} {
		if inside(g.polygon, p.Longitude+d[0], p.Latitude+d[1]) {
			return true
		}
	}
	return false
}

// inside is the even–odd rule (Shimrat 1962, CACM algorithm 112).
func inside(ring [][2]float64, x, y float64) bool {
	in := false
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		if (a[1] > y) != (b[1] > y) && x < a[0]+(b[0]-a[0])*(y-a[1])/(b[1]-a[1]) {
			in = !in
		}
	}
	return in
}

// parsePolygon reads the outer ring of a GeoJSON polygon, or of well-known text
// as JSON-LD has it. Nothing for a missing geometry.
func parsePolygon(raw json.RawMessage) ([][2]float64, error) {
	if len(raw) == 0 || string(raw) == "null" {
		return nil, nil
	}
	if raw[0] == '"' {
		return parseText(raw)
	}
	var g struct {
		Type        string        `json:"type"`
		Coordinates [][][]float64 `json:"coordinates"`
	}
	if err := json.Unmarshal(raw, &g); err != nil || g.Type != "Polygon" || len(g.Coordinates) == 0 {
		return nil, errors.New("geometry: must be a polygon")
	}
	var ring [][2]float64
	for i, c := range g.Coordinates[0] {
		if len(c) < 2 {
			return nil, fmt.Errorf("geometry.coordinates[0][%d]: must be longitude and latitude", i)
		}
		ring = append(ring, [2]float64{c[0], c[1]})
	}
	return closed(ring)
}

func parseText(raw json.RawMessage) ([][2]float64, error) {
	var text string
	if err := json.Unmarshal(raw, &text); err != nil {
		return nil, err
	}
	inner, ok := strings.CutPrefix(strings.ToUpper(strings.TrimSpace(text)), "POLYGON")
	if inner, _, _ = strings.Cut(strings.Trim(inner, " ("), ")"); !ok || inner == "" {
		return nil, fmt.Errorf("geometry %.40q: must be a polygon", text)
	}
	var ring [][2]float64
	for pair := range strings.SplitSeq(inner, ",") {
		f := strings.Fields(pair)
		if len(f) < 2 {
			return nil, fmt.Errorf("geometry corner %q: must be longitude and latitude", pair)
		}
		x, errX := strconv.ParseFloat(f[0], 64)
		y, errY := strconv.ParseFloat(f[1], 64)
		if err := errors.Join(errX, errY); err != nil {
			return nil, fmt.Errorf("geometry corner %q: %w", pair, err)
		}
		ring = append(ring, [2]float64{x, y})
	}
	return closed(ring)
}

// closed makes sure that a ring ends where it began.
func closed(ring [][2]float64) ([][2]float64, error) {
	if len(ring) > 0 && ring[0] != ring[len(ring)-1] {
		ring = append(ring, ring[0])
	}
	if len(ring) < 4 {
		return nil, errors.New("geometry: a polygon needs three corners")
	}
	return ring, nil
}
