package standin

import (
	"fmt"
	"math"
	"net/http"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// freshFor is what the service states in Cache-Control.
const freshFor = 8 * time.Minute

// grid answers the raw grid of a cell, conditionally.
func (s *server) grid(w http.ResponseWriter, r *http.Request) {
	p, ok := s.byCell(w, r)
	if !ok {
		return
	}
	now := s.Now().UTC()
	issued := now.Truncate(s.IssueEvery)
	modified := issued.Format(http.TimeFormat)
	h := w.Header()
	h.Set("Last-Modified", modified)
	h.Set("Cache-Control", fmt.Sprintf("public, max-age=%d, s-maxage=3600", int(freshFor.Seconds())))
	h.Set("Expires", now.Add(freshFor).Format(http.TimeFormat))
	h.Set("X-Correlation-Id", fmt.Sprintf("standin-%d", now.Unix()))
	if r.Header.Get("If-Modified-Since") == modified {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	hours := s.Forecast(p, issued)
	if len(hours) == 0 {
		s.problem(w, http.StatusServiceUnavailable, "ForecastGridExpired", "Forecast Grid Expired",
			"The requested forecast grid was issued "+stamp(issued)+" and has expired.")
		return
	}
	answer(w, r, map[string]any{
		"@context": []any{}, "id": publicHost + "/gridpoints/" + p.cell(), "type": "Feature",
		"geometry": p.polygon(), "properties": s.layers(p, issued, hours),
	})
}

func (s *server) layers(p Place, issued time.Time, hours []weather.Hour) map[string]any {
	end := hours[len(hours)-1].At.Add(time.Hour)
	zone := standardTime(p.TimeZone, issued)
	props := map[string]any{
		"@id": publicHost + "/gridpoints/" + p.cell(), "@type": "wx:Gridpoint",
		"updateTime": stamp(issued), "validTimes": interval(hours[0].At, end),
		"forecastOffice": publicHost + "/offices/" + p.Office,
		"gridId":         p.Office, "gridX": fmt.Sprint(p.X), "gridY": fmt.Sprint(p.Y),
		"elevation":      map[string]any{"unitCode": "wmoUnit:m", "value": p.Elevation},
		"temperature":    runs("degC", hours, func(h weather.Hour) unit.Maybe[float64] { return wholeF(h.Air) }),
		"dewpoint":       runs("degC", hours, func(h weather.Hour) unit.Maybe[float64] { return wholeF(h.DewPoint) }),
		"minTemperature": extremes(hours, zone, 19, 14*time.Hour, -1, s.MinimumBelow),
		"maxTemperature": extremes(hours, zone, 7, 13*time.Hour, +1, 0),
		"skyCover":       runs("percent", hours, func(h weather.Hour) unit.Maybe[float64] { return rounded(h.Cloud, 100, 1) }),
		"windSpeed":      runs("km_h-1", hours, func(h weather.Hour) unit.Maybe[float64] { return rounded(h.Wind, 3600/1852.0, 1.852) }),
		"relativeHumidity": runs("percent", hours, func(h weather.Hour) unit.Maybe[float64] {
			return rounded(humidity(h), 100, 1)
		}),
		"quantitativePrecipitation": totals(hours, func(h weather.Hour) unit.Maybe[float64] { return h.Precip }),
		"snowfallAmount":            totals(hours, snowfall),
	}
	for _, unused := range []string{"heatIndex", "iceAccumulation", "hazards", "waveHeight"} {
		props[unused] = map[string]any{"values": []any{}}
	}
	return props
}

type value struct {
	ValidTime string              `json:"validTime"`
	Value     unit.Maybe[float64] `json:"value"`
}

func layer(uom string, values []value) map[string]any {
	if len(values) == 0 {
		return map[string]any{"values": []any{}}
	}
	return map[string]any{"uom": "wmoUnit:" + uom, "values": values}
}

// runs joins equal neighbouring hours.
func runs(uom string, hours []weather.Hour, of func(weather.Hour) unit.Maybe[float64]) map[string]any {
	var out []value
	known := false
	for i := 0; i < len(hours); {
		v, j := of(hours[i]), i+1
		for j < len(hours) && of(hours[j]) == v {
			j++
		}
		out = append(out, value{interval(hours[i].At, hours[j-1].At.Add(time.Hour)), v})
		known, i = known || v.Known(), j
	}
	if !known {
		return layer(uom, nil)
	}
	return layer(uom, out)
}

// extremes gives the lowest (sign −1) or highest value of daily windows that
// begin at an hour of local standard time. A window the forecast has begun is
// cut at its start.
func extremes(hours []weather.Hour, zone *time.Location, from int, length time.Duration, sign float64, below unit.Kelvins) map[string]any {
	var out []value
	first, end := hours[0].At, hours[len(hours)-1].At.Add(time.Hour)
	day := first.In(zone).AddDate(0, 0, -1)
	for start := time.Date(day.Year(), day.Month(), day.Day(), from, 0, 0, 0, zone).UTC(); start.Before(end); start = start.Add(24 * time.Hour) {
		stop := start.Add(length)
		var best unit.Maybe[unit.Celsius]
		for _, h := range hours {
			c, ok := h.Air.Get()
			if ok && !h.At.Before(start) && h.At.Before(stop) && (!best.Known() || sign*float64(c-best.Else(0)) > 0) {
				best = h.Air
			}
		}
		c, ok := best.Get()
		if !ok || stop.After(end) {
			continue
		}
		best = unit.Some(c - unit.Celsius(below))
		out = append(out, value{interval(later(start, first), stop), wholeF(best)})
	}
	return layer("degC", out)
}

// totals sums the full six-hour periods 00, 06, 12, 18 UTC; the first may be
// cut. A period with a missing hour is null.
func totals(hours []weather.Hour, of func(weather.Hour) unit.Maybe[float64]) map[string]any {
	const period = 6 * time.Hour
	var out []value
	for i := 0; i < len(hours); {
		stop := hours[i].At.Truncate(period).Add(period)
		sum, known, j := 0.0, true, i
		for ; j < len(hours) && hours[j].At.Before(stop); j++ {
			mm, ok := of(hours[j]).Get()
			sum, known = sum+mm, known && ok
		}
		if hours[j-1].At.Add(time.Hour).Equal(stop) {
			v := unit.None[float64]()
			if known {
				v = unit.Some(math.Round(sum*1e4) / 1e4)
			}
			out = append(out, value{interval(hours[i].At, stop), v})
		}
		i = j
	}
	return layer("mm", out)
}

// snowfall makes depth of precipitation at or below 0.5 °C, ten to one (a usual
// rule of thumb, from memory).
func snowfall(h weather.Hour) unit.Maybe[float64] {
	mm, ok := h.Precip.Get()
	c, okC := h.Air.Get()
	if !ok || !okC {
		return unit.None[float64]()
	}
	if c > 0.5 {
		return unit.Some(0.0)
	}
	return unit.Some(10 * mm)
}

func humidity(h weather.Hour) unit.Maybe[float64] {
	c, ok := h.Air.Get()
	d, okD := h.DewPoint.Get()
	if !ok || !okD {
		return unit.None[float64]()
	}
	return unit.Some(min(1, weather.SaturationPressure(d)/weather.SaturationPressure(c)))
}

// wholeF rounds to whole degrees Fahrenheit, as the service's grids are made.
func wholeF(c unit.Maybe[unit.Celsius]) unit.Maybe[float64] {
	v, ok := c.Get()
	if !ok || !v.Finite() {
		return unit.None[float64]()
	}
	return unit.Some(float64(unit.FromFahrenheit(math.Round(v.Fahrenheit()))))
}

// rounded scales a value, rounds it and gives it in a unit of so much.
func rounded(v unit.Maybe[float64], scale, unitOf float64) unit.Maybe[float64] {
	x, ok := v.Get()
	if !ok || math.IsNaN(x) {
		return unit.None[float64]()
	}
	return unit.Some(math.Round(x*scale) * unitOf)
}

// interval is "start/duration", the duration as PTnH, PnD or PnDTnH.
func interval(start, end time.Time) string {
	hours := int(end.Sub(start).Hours())
	d := "P"
	if hours >= 24 {
		d += fmt.Sprintf("%dD", hours/24)
	}
	if hours%24 != 0 {
		d += fmt.Sprintf("T%dH", hours%24)
	}
	return stamp(start) + "/" + d
}

// standardTime is a zone's standard time at a date, which the windows of the
// extremes keep through the summer.
func standardTime(zone string, at time.Time) *time.Location {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		return time.UTC
	}
	_, winter := time.Date(at.Year(), 1, 1, 0, 0, 0, 0, loc).Zone()
	_, summer := time.Date(at.Year(), 7, 1, 0, 0, 0, 0, loc).Zone()
	return time.FixedZone("standard", min(winter, summer))
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
