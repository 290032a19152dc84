package metno

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

type document struct {
	Geometry struct {
		Coordinates []float64 `json:"coordinates"`
	} `json:"geometry"`
	Properties struct {
		Meta struct {
			UpdatedAt string            `json:"updated_at"`
			Units     map[string]string `json:"units"`
		} `json:"meta"`
		Series []step `json:"timeseries"`
	} `json:"properties"`
}

type step struct {
	Time string `json:"time"`
	Data struct {
		Instant block  `json:"instant"`
		Next1   *block `json:"next_1_hours"`
		Next6   *block `json:"next_6_hours"`
	} `json:"data"`
	at time.Time
}

type block struct {
	Details map[string]fetch.Number `json:"details"`
}

// instants that are read, with the unit the documentation states for each.
var instants = []struct {
	field    string
	unit     string
	quantity weather.Quantity
}{
	{"air_temperature", "celsius", weather.Air},
	{"air_temperature_percentile_10", "celsius", weather.AirP10},
	{"air_temperature_percentile_90", "celsius", weather.AirP90},
	{"dew_point_temperature", "celsius", weather.DewPoint},
	{"relative_humidity", "%", weather.Humidity},
	{"cloud_area_fraction", "%", weather.Cloud},
	{"wind_speed", "m/s", weather.Wind},
}

// Parse reads a Locationforecast document, "complete" or "compact". Instants
// hold until the next step, the last one for an hour. Where steps are six hours
// apart, their stated minimum and maximum are kept, because the instants hide
// the night's low. A layer that cannot be relied on is refused by name.
func Parse(body []byte) (weather.Forecast, error) {
	var doc document
	if err := json.Unmarshal(body, &doc); err != nil {
		return weather.Forecast{}, fmt.Errorf("not a forecast: %w", err)
	}
	issued, err := parseTime(doc.Properties.Meta.UpdatedAt)
	if err != nil {
		return weather.Forecast{}, fmt.Errorf("properties.meta.updated_at: %w", err)
	}
	f := weather.Forecast{Source: name, Issued: issued, Credit: Credit, Layers: map[weather.Quantity][]weather.Interval{}}
	if err := place(&f, doc.Geometry.Coordinates); err != nil {
		return f, err
	}
	steps, err := ordered(doc.Properties.Series)
	if err != nil {
		return f, err
	}
	r := reader{forecast: &f, units: doc.Properties.Meta.Units, steps: steps}
	r.instants()
	r.extremes()
	r.precipitation()
	return f, nil
}

func place(f *weather.Forecast, coordinates []float64) error {
	if len(coordinates) < 2 {
		return errors.New("geometry.coordinates: must be longitude, latitude and altitude")
	}
	f.Longitude, f.Latitude = coordinates[0], coordinates[1]
	f.Place = forecast.Coordinate(f.Latitude) + "," + forecast.Coordinate(f.Longitude)
	if len(coordinates) > 2 {
		f.Elevation = unit.Some(coordinates[2])
	}
	return nil
}

// ordered reads the steps' times and sorts them; two steps at one time are an error.
func ordered(steps []step) ([]step, error) {
	for i := range steps {
		at, err := parseTime(steps[i].Time)
		if err != nil {
			return nil, fmt.Errorf("properties.timeseries[%d].time: %w", i, err)
		}
		steps[i].at = at
	}
	slices.SortStableFunc(steps, func(a, b step) int { return a.at.Compare(b.at) })
	for i := 1; i < len(steps); i++ {
		if steps[i].at.Equal(steps[i-1].at) {
			return nil, fmt.Errorf("properties.timeseries: two steps at %s", steps[i].Time)
		}
	}
	return steps, nil
}

func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return t, fmt.Errorf("%q: must be a time like 2026-01-11T17:00:00Z", s)
	}
	return t.UTC(), nil
}

// reader fills a forecast's layers from steps in order.
type reader struct {
	forecast *weather.Forecast
	units    map[string]string
	steps    []step
}

func (r reader) instants() {
	for _, f := range instants {
		r.layer(f.field, f.unit, f.quantity, func(add func(iv weather.Interval, n fetch.Number)) {
			for i, s := range r.steps {
				if n, ok := s.Data.Instant.Details[f.field]; ok {
					add(weather.Interval{Start: s.at, End: r.until(i)}, n)
				}
			}
		})
	}
}

// until is the next step's time; the last instant stands for an hour.
func (r reader) until(i int) time.Time {
	if i+1 < len(r.steps) {
		return r.steps[i+1].at
	}
	return r.steps[i].at.Add(time.Hour)
}

// coarse tells a step that the next one follows more than an hour later.
func (r reader) coarse(i int) bool { return r.until(i).Sub(r.steps[i].at) > time.Hour }

// extremes keeps the six-hour minima and maxima of the coarse steps.
func (r reader) extremes() {
	for field, q := range map[string]weather.Quantity{"air_temperature_min": weather.AirMin, "air_temperature_max": weather.AirMax} {
		r.layer(field, "celsius", q, func(add func(iv weather.Interval, n fetch.Number)) {
			for i, s := range r.steps {
				if n, ok := s.Data.Next6.detail(field); ok && r.coarse(i) {
					add(weather.Interval{Start: s.at, End: s.at.Add(6 * time.Hour)}, n)
				}
			}
		})
	}
	bare, first := 0, time.Time{}
	stated := map[int64]bool{}
	for _, iv := range r.forecast.Layers[weather.AirMin] {
		stated[iv.Start.Unix()] = iv.Value.Known()
	}
	for i, s := range r.steps {
		if r.coarse(i) && !stated[s.at.Unix()] {
			if bare++; first.IsZero() {
				first = s.at
			}
		}
	}
	if bare > 0 {
		r.forecast.Warnings = append(r.forecast.Warnings, fmt.Sprintf(
			"coarse: from %s on, %d steps of several hours state no minimum; a night's low between them is not seen", first.Format(time.RFC3339), bare))
	}
}

// precipitation takes the hour's amount where there is one and the six hours'
// only where nothing in them is covered yet, since the two overlap.
func (r reader) precipitation() {
	const field = "precipitation_amount"
	r.layer(field, "mm", weather.Precip, func(add func(iv weather.Interval, n fetch.Number)) {
		covered := time.Time{}
		for i, s := range r.steps {
			length, n, ok := time.Hour, fetch.Number{}, false
			if n, ok = s.Data.Next1.detail(field); !ok {
				length = 6 * time.Hour
				n, ok = s.Data.Next6.detail(field)
				ok = ok && !r.hourlyWithin(i, s.at.Add(length))
			}
			if ok && !s.at.Before(covered) {
				covered = s.at.Add(length)
				add(weather.Interval{Start: s.at, End: covered}, n)
			}
		}
	})
}

// hourlyWithin tells whether a later step before end has an hour's amount.
func (r reader) hourlyWithin(i int, end time.Time) bool {
	for _, s := range r.steps[i+1:] {
		if !s.at.Before(end) {
			return false
		}
		if _, ok := s.Data.Next1.detail("precipitation_amount"); ok {
			return true
		}
	}
	return false
}

func (b *block) detail(field string) (fetch.Number, bool) {
	if b == nil {
		return fetch.Number{}, false
	}
	n, ok := b.Details[field]
	return n, ok
}

// layer collects one field. Its unit must be the documented one: a changed unit
// means a changed product.
func (r reader) layer(field, want string, q weather.Quantity, each func(add func(weather.Interval, fetch.Number))) {
	var values []weather.Interval
	var err error
	each(func(iv weather.Interval, n fetch.Number) {
		if v, ok := n.Get(); ok && err == nil {
			if v, err = fetch.Convert(q, want, v); err != nil {
				err = fmt.Errorf("at %s: %w", iv.Start.Format(time.RFC3339), err)
			}
			iv.Value = unit.Some(v)
		}
		values = append(values, iv)
	})
	if len(values) == 0 {
		return
	}
	if got := r.units[field]; got != want {
		err = fetch.UnknownUnit(got, want)
	}
	if err == nil {
		values, err = fetch.Ordered(values)
	}
	if err != nil {
		r.forecast.Refused = append(r.forecast.Refused, fetch.Refused(field, err))
		return
	}
	r.forecast.Layers[q] = values
}
