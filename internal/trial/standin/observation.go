package standin

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// minute of the routine report: it is made seven minutes before the hour it is
// named for. Kept for a week.
const (
	reportLead = 7 * time.Minute
	keptFor    = 7 * 24 * time.Hour
	pageSize   = 500
)

// observations lists a station's reports, newest first, in pages.
func (s *server) observations(w http.ResponseWriter, r *http.Request) {
	i := slices.IndexFunc(s.Places, func(p Place) bool { return p.Station == r.PathValue("id") })
	if i < 0 {
		s.problem(w, http.StatusNotFound, "NotFound", "Not Found", "no such station")
		return
	}
	p, now, q := s.Places[i], s.Now().UTC(), r.URL.Query()
	from := later(timeOr(q.Get("start"), now.Add(-keptFor)), now.Add(-keptFor))
	to := timeOr(q.Get("end"), now)
	if to.After(now) {
		to = now
	}
	limit, cursor := numberOr(q.Get("limit"), pageSize), numberOr(q.Get("cursor"), 0)
	limit = min(max(limit, 1), pageSize)
	features := []any{}
	if s.Past != nil {
		hours := s.Past(p, from.Add(reportLead).Truncate(time.Hour), to.Add(time.Hour))
		slices.SortFunc(hours, func(a, b weather.Hour) int { return b.At.Compare(a.At) })
		for _, h := range hours {
			if at := h.At.Add(-reportLead); !at.Before(from) && !at.After(to) {
				features = append(features, p.report(h))
			}
		}
	}
	doc := map[string]any{"type": "FeatureCollection"}
	page := features[min(cursor, len(features)):]
	if len(page) > limit {
		page = page[:limit]
		q.Set("cursor", strconv.Itoa(cursor+limit))
		doc["pagination"] = map[string]any{"next": publicHost + r.URL.Path + "?" + q.Encode()}
	}
	doc["features"] = page
	answer(w, r, doc)
}

func timeOr(s string, otherwise time.Time) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return otherwise
	}
	return t
}

func numberOr(s string, otherwise int) int {
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 {
		return otherwise
	}
	return n
}

func (p Place) report(h weather.Hour) map[string]any {
	at := h.At.Add(-reportLead)
	id := publicHost + "/stations/" + p.Station
	return map[string]any{
		"id": id + "/observations/" + stamp(at), "type": "Feature",
		"geometry": map[string]any{"type": "Point", "coordinates": []float64{p.Longitude, p.Latitude}},
		"properties": map[string]any{
			"@type": "wx:ObservationStation", "station": id, "timestamp": stamp(at), "rawMessage": p.metar(h),
			"elevation":             map[string]any{"unitCode": "wmoUnit:m", "value": p.Elevation},
			"temperature":           measured("degC", tenths(h.Air)),
			"dewpoint":              measured("degC", tenths(h.DewPoint)),
			"windSpeed":             measured("km_h-1", rounded(h.Wind, 3600/1852.0, 1.852)),
			"precipitationLastHour": measured("mm", unit.None[float64]()),
			"cloudLayers":           clouds(h.Cloud),
		},
	}
}

func measured(uom string, v unit.Maybe[float64]) map[string]any {
	control := "V"
	if !v.Known() {
		control = "Z"
	}
	return map[string]any{"unitCode": "wmoUnit:" + uom, "value": v, "qualityControl": control}
}

func tenths(c unit.Maybe[unit.Celsius]) unit.Maybe[float64] {
	v, ok := c.Get()
	if !ok || !v.Finite() {
		return unit.None[float64]()
	}
	return unit.Some(math.Round(float64(v)*10) / 10)
}

// clouds names the okta band (WMO-No. 306) of a share of sky.
func clouds(share unit.Maybe[float64]) []any {
	v, ok := share.Get()
	if !ok {
		return []any{}
	}
	amount := "OVC"
	for _, band := range []struct {
		upTo float64
		name string
	}{{0.5 / 8, "CLR"}, {2.5 / 8, "FEW"}, {4.5 / 8, "SCT"}, {7.5 / 8, "BKN"}} {
		if v < band.upTo {
			amount = band.name
			break
		}
	}
	return []any{map[string]any{"base": map[string]any{"unitCode": "wmoUnit:m", "value": nil}, "amount": amount}}
}

// metar writes the report in the aviation form with temperatures in tenths.
func (p Place) metar(h weather.Hour) string {
	at := h.At.Add(-reportLead).UTC()
	parts := []string{p.Station, at.Format("021504Z")}
	if ms, ok := h.Wind.Get(); ok {
		parts = append(parts, fmt.Sprintf("VRB%02.0fKT", math.Round(ms*3600/1852)))
	}
	parts = append(parts, "RMK", "AO2")
	air, okA := tenths(h.Air).Get()
	dew, okD := tenths(h.DewPoint).Get()
	if okA && okD {
		parts = append(parts, "T"+signed(air)+signed(dew))
	}
	return strings.Join(parts, " ")
}

func signed(c float64) string {
	n := int(math.Round(math.Abs(c) * 10))
	if c < 0 {
		return fmt.Sprintf("1%03d", n)
	}
	return fmt.Sprintf("0%03d", n)
}
