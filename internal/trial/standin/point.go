package standin

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// halfCell is half the side of a cell in degrees of latitude, 1.25 km.
const halfCell = 0.01125

func write(w http.ResponseWriter, v any) {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	_ = e.Encode(v) // a reader that has gone needs no answer
}

// answer writes a feature, as GeoJSON or, when asked for, with its properties
// at the root as JSON-LD.
func answer(w http.ResponseWriter, r *http.Request, feature map[string]any) {
	w.Header().Set("Vary", "Accept,Feature-Flags,Accept-Language")
	props, single := feature["properties"].(map[string]any)
	if !single || !strings.Contains(r.Header.Get("Accept"), "application/ld+json") {
		w.Header().Set("Content-Type", "application/geo+json")
		write(w, feature)
		return
	}
	w.Header().Set("Content-Type", "application/ld+json")
	flat := map[string]any{"@context": feature["@context"], "geometry": text(feature["geometry"])}
	for k, v := range props {
		flat[k] = v
	}
	write(w, flat)
}

// text writes a polygon as well-known text.
func text(geometry any) any {
	g, ok := geometry.(map[string]any)
	if !ok || g["type"] != "Polygon" {
		return nil
	}
	var corners []string
	for _, c := range g["coordinates"].([][][2]float64)[0] {
		corners = append(corners, fmt.Sprintf("%g %g", c[0], c[1]))
	}
	return "POLYGON((" + strings.Join(corners, ",") + "))"
}

// points maps a coordinate to the nearest place within a cell's reach. Five and
// more decimals are redirected to four, relatively, as the service does.
func (s *server) points(w http.ResponseWriter, r *http.Request) {
	raw := r.PathValue("point")
	lat, lon, err := parsePoint(raw)
	if err != nil {
		s.problem(w, http.StatusBadRequest, "BadRequest", "Bad Request", err.Error())
		return
	}
	if short := cut(lat) + "," + cut(lon); short != raw {
		w.Header().Set("Content-Type", "application/problem+json")
		w.Header().Set("Location", "/points/"+short)
		w.WriteHeader(http.StatusMovedPermanently)
		return
	}
	p, ok := s.nearest(lat, lon)
	if !ok {
		s.problem(w, http.StatusNotFound, "InvalidPoint", "Data Unavailable For Requested Point", "Unable to provide data for requested point "+raw)
		return
	}
	w.Header().Set("Cache-Control", "public, max-age=120")
	answer(w, r, map[string]any{
		"id": publicHost + "/points/" + raw, "type": "Feature",
		"geometry":   map[string]any{"type": "Point", "coordinates": []float64{lon, lat}},
		"properties": p.properties(raw),
	})
}

func (p Place) properties(raw string) map[string]any {
	grid := publicHost + "/gridpoints/" + p.cell()
	zone := "/DMZ" + fmt.Sprintf("%03d", p.X%1000)
	return map[string]any{
		"@id": publicHost + "/points/" + raw, "@type": "wx:Point", "cwa": p.Office, "type": "land",
		"forecastOffice": publicHost + "/offices/" + p.Office, "gridId": p.Office, "gridX": p.X, "gridY": p.Y,
		"forecast": grid + "/forecast", "forecastHourly": grid + "/forecast/hourly", "forecastGridData": grid,
		"observationStations": grid + "/stations",
		"forecastZone":        publicHost + "/zones/forecast" + zone, "county": publicHost + "/zones/county" + zone,
		"fireWeatherZone": publicHost + "/zones/fire" + zone, "timeZone": p.TimeZone, "radarStation": nil,
	}
}

func (p Place) cell() string { return fmt.Sprintf("%s/%d,%d", p.Office, p.X, p.Y) }

func parsePoint(raw string) (lat, lon float64, err error) {
	a, b, ok := strings.Cut(raw, ",")
	lat, errA := strconv.ParseFloat(a, 64)
	lon, errB := strconv.ParseFloat(b, 64)
	if !ok || errA != nil || errB != nil || math.Abs(lat) > 90 || math.Abs(lon) > 180 {
		return 0, 0, fmt.Errorf("parameter \"point\" is invalid: %q", raw)
	}
	return lat, lon, nil
}

// cut writes a coordinate with at most four decimals and no trailing zeros.
func cut(v float64) string { return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64) }

func (s *server) nearest(lat, lon float64) (best Place, found bool) {
	reach := 10 * halfCell
	for _, p := range s.Places {
		d := math.Max(math.Abs(p.Latitude-lat), math.Abs(p.Longitude-lon)*math.Cos(lat*math.Pi/180))
		if d < reach {
			best, reach, found = p, d, true
		}
	}
	return best, found
}

// polygon is the outline of a place's cell.
func (p Place) polygon() map[string]any {
	dx := halfCell / math.Max(0.1, math.Cos(p.Latitude*math.Pi/180))
	corner := func(x, y float64) [2]float64 { return [2]float64{p.Longitude + x*dx, p.Latitude + y*halfCell} }
	return map[string]any{"type": "Polygon", "coordinates": [][][2]float64{{
		corner(-1, 1), corner(-1, -1), corner(1, -1), corner(1, 1), corner(-1, 1),
	}}}
}

// byCell finds a place by the two path segments of its cell, or answers 404.
func (s *server) byCell(w http.ResponseWriter, r *http.Request) (Place, bool) {
	want := r.PathValue("office") + "/" + r.PathValue("cell")
	for _, p := range s.Places {
		if p.cell() == want {
			return p, true
		}
	}
	s.problem(w, http.StatusNotFound, "InvalidGridpoint", "Invalid Gridpoint", "Unable to provide data for gridpoint "+want)
	return Place{}, false
}

func (s *server) stations(w http.ResponseWriter, r *http.Request) {
	p, ok := s.byCell(w, r)
	if !ok {
		return
	}
	answer(w, r, map[string]any{"type": "FeatureCollection", "features": []any{map[string]any{
		"id": publicHost + "/stations/" + p.Station, "type": "Feature",
		"geometry":   map[string]any{"type": "Point", "coordinates": []float64{p.Longitude, p.Latitude}},
		"properties": map[string]any{"@type": "wx:ObservationStation", "stationIdentifier": p.Station, "name": p.Name, "timeZone": p.TimeZone},
	}}})
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05+00:00") }
