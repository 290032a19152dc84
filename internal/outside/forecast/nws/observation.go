package nws

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// pages bounds how far a list of observations is followed: hourly and special
// reports of a week fit in two.
const pages = 4

var stationID = regexp.MustCompile(`^[A-Za-z0-9_-]{2,16}$`)

// keptFor is how long the service keeps observations (about a week, from
// memory); older hours are not asked for.
const keptFor = 7 * 24 * time.Hour

// Past gives observed hours from the nearest stations, the first station first
// and each next one only for the hours that are still missing, no further back
// than a week.
func (s *Source) Past(ctx context.Context, c forecast.Cell, from, to time.Time) ([]weather.Hour, weather.Origin, error) {
	if len(c.Meta.Stations) == 0 {
		return nil, "", fmt.Errorf("observations for %s: %w: the place has no stations", c.Key, forecast.ErrNoPast)
	}
	if oldest := s.client.Now().Add(-keptFor); from.Before(oldest) {
		from = oldest
	}
	var hours []weather.Hour
	var failed error
	for _, id := range c.Meta.Stations[:min(len(c.Meta.Stations), stationsAsked)] {
		found, err := s.observed(ctx, id, from, to)
		if err != nil {
			failed = err
			continue
		}
		hours = merge(hours, found)
		if len(weather.Holes(hours, from, to)) == 0 {
			break
		}
	}
	if len(hours) == 0 && failed != nil {
		return nil, "", fmt.Errorf("observations for %s: %w", c.Key, failed)
	}
	return hours, weather.Observation, nil
}

// merge adds the hours that are not there yet.
func merge(have, more []weather.Hour) []weather.Hour {
	known := map[int64]bool{}
	for _, h := range have {
		known[h.At.Unix()] = true
	}
	for _, h := range more {
		if !known[h.At.Unix()] {
			have = append(have, h)
		}
	}
	slices.SortFunc(have, func(a, b weather.Hour) int { return a.At.Compare(b.At) })
	return have
}

func (s *Source) observed(ctx context.Context, id string, from, to time.Time) ([]weather.Hour, error) {
	address := s.base.URL("/stations/"+url.PathEscape(id)+"/observations", url.Values{
		"start": {from.Add(-half).UTC().Format(time.RFC3339)}, "end": {to.UTC().Format(time.RFC3339)}, "limit": {"500"},
	})
	var all []Observation
	for range pages {
		r, err := s.get(ctx, address, forecast.Validators{}, geoJSON)
		if err != nil {
			return nil, err
		}
		page, next, err := ParseObservations(r.Body)
		if err != nil {
			return nil, fetch.Unusable(address, err)
		}
		all = append(all, page...)
		if next == "" || len(page) == 0 {
			break
		}
		if address, err = s.base.Link(next); err != nil {
			return nil, fetch.Unusable(address, err)
		}
	}
	return within(Hourly(all), from, to), nil
}

func within(hours []weather.Hour, from, to time.Time) []weather.Hour {
	return slices.DeleteFunc(hours, func(h weather.Hour) bool { return h.At.Before(from) || !h.At.Before(to) })
}

// Observation is one report of a station.
type Observation struct {
	At       time.Time
	Routine  bool // it carries a METAR; the five-minute records between do not and lack fields
	Air      unit.Maybe[unit.Celsius]
	DewPoint unit.Maybe[unit.Celsius]
	Wind     unit.Maybe[float64] // m/s
	Cloud    unit.Maybe[float64] // fraction
	Precip   unit.Maybe[float64] // mm in the hour before
}

type report struct {
	Timestamp   string   `json:"timestamp"`
	Raw         string   `json:"rawMessage"`
	Temperature quantity `json:"temperature"`
	Dewpoint    quantity `json:"dewpoint"`
	WindSpeed   quantity `json:"windSpeed"`
	LastHour    quantity `json:"precipitationLastHour"`
	Clouds      []struct {
		Amount string `json:"amount"`
	} `json:"cloudLayers"`
}

// ParseObservations reads a list of observations in any order; next is the link
// to the following page. An observation whose time cannot be read fails the
// list, a quantity that cannot be relied on is missing.
func ParseObservations(body []byte) (list []Observation, next string, err error) {
	var doc struct {
		Features []struct {
			Properties report `json:"properties"`
		} `json:"features"`
		Pagination struct {
			Next string `json:"next"`
		} `json:"pagination"`
	}
	if err := json.Unmarshal(body, &doc); err != nil {
		return nil, "", fmt.Errorf("observations: %w", err)
	}
	for i, f := range doc.Features {
		at, err := parseTime(f.Properties.Timestamp)
		if err != nil {
			return nil, "", fmt.Errorf("features[%d].properties.timestamp: %w", i, err)
		}
		list = append(list, f.Properties.observation(at))
	}
	slices.SortStableFunc(list, func(a, b Observation) int { return a.At.Compare(b.At) })
	return list, doc.Pagination.Next, nil
}

func (r report) observation(at time.Time) Observation {
	m := parseMETAR(r.Raw)
	o := Observation{
		At: at, Routine: r.Raw != "",
		Air:      temperature(r.Temperature, weather.Air, m.air),
		DewPoint: temperature(r.Dewpoint, weather.DewPoint, m.dewPoint),
		Wind:     r.WindSpeed.checked(weather.Wind, m.wind),
		Precip:   r.LastHour.checked(weather.Precip, unit.None[float64]()),
	}
	for _, c := range r.Clouds {
		if f, ok := okta[c.Amount]; ok {
			o.Cloud = unit.Some(max(o.Cloud.Else(0), f))
		}
	}
	return o
}

func temperature(q quantity, as weather.Quantity, spoken unit.Maybe[float64]) unit.Maybe[unit.Celsius] {
	if v, ok := q.checked(as, spoken).Get(); ok {
		return unit.Some(unit.Celsius(v))
	}
	return unit.None[unit.Celsius]()
}

// checked gives a value that passed the quality control (MADIS flags C coarse
// pass, S screened, V verified, G subjectively good; meanings from memory).
// X, Q and B were rejected, questioned or bad: then the report's own wording is
// no better. A value that was not checked (Z) or is absent gives way to what
// the METAR says.
func (q quantity) checked(as weather.Quantity, spoken unit.Maybe[float64]) unit.Maybe[float64] {
	switch q.Control {
	case "X", "Q", "B":
		return unit.None[float64]()
	case "C", "S", "V", "G":
		if v, ok := q.Value.Get(); ok {
			if x, err := fetch.Convert(as, label(q.UnitCode), v); err == nil {
				return unit.Some(x)
			}
			return unit.None[float64]()
		}
	}
	return spoken
}

// okta is the share of sky of a cloud amount, the middle of its okta band
// (WMO-No. 306, code table for METAR).
var okta = map[string]float64{
	"SKC": 0, "CLR": 0, "NCD": 0, "NSC": 0, "FEW": 1.5 / 8, "SCT": 3.5 / 8, "BKN": 6.0 / 8, "OVC": 1, "VV": 1,
}

const half = 30 * time.Minute

// Hourly gives each full hour the report nearest to it, within half an hour:
// a routine report at 15:53 is the one of 16:00. Only reports with a
// temperature count; those with a METAR come before those without.
func Hourly(list []Observation) []weather.Hour {
	best := map[int64]Observation{}
	for _, o := range list {
		at := o.At.Add(half).Truncate(time.Hour)
		have, ok := best[at.Unix()]
		if o.Air.Known() && (!ok || o.nearer(have, at)) {
			best[at.Unix()] = o
		}
	}
	var out []weather.Hour
	for at, o := range best {
		out = append(out, weather.Hour{
			At: time.Unix(at, 0).UTC(), Air: o.Air, DewPoint: o.DewPoint, Wind: o.Wind, Cloud: o.Cloud,
		})
	}
	slices.SortFunc(out, func(a, b weather.Hour) int { return a.At.Compare(b.At) })
	rain(out, list)
	return out
}

func (o Observation) nearer(than Observation, at time.Time) bool {
	if o.Routine != than.Routine {
		return o.Routine
	}
	return o.At.Sub(at).Abs() < than.At.Sub(at).Abs()
}

// rain puts the amount a routine report gives for the hour before it into the
// hour that has ended.
func rain(hours []weather.Hour, list []Observation) {
	ended := map[int64]float64{}
	for _, o := range list {
		if mm, ok := o.Precip.Get(); ok && o.Routine {
			at := o.At.Add(half).Truncate(time.Hour).Add(-time.Hour).Unix()
			ended[at] = max(ended[at], mm)
		}
	}
	for i := range hours {
		if mm, ok := ended[hours[i].At.Unix()]; ok {
			hours[i].Precip = unit.Some(mm)
		}
	}
}
