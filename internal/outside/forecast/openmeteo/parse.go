package openmeteo

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

type block struct {
	Latitude  float64                    `json:"latitude"`
	Longitude float64                    `json:"longitude"`
	Elevation fetch.Number               `json:"elevation"` // absent where the model has none
	Offset    int64                      `json:"utc_offset_seconds"`
	Units     map[string]string          `json:"hourly_units"`
	Hourly    map[string]json.RawMessage `json:"hourly"`
	Error     bool                       `json:"error"`
	Reason    string                     `json:"reason"`
}

// fields that are read. Those of the hour before carry the stamp of its end.
var fields = []struct {
	field    string
	old      string // spelling of older documents
	quantity weather.Quantity
	before   bool
}{
	{"temperature_2m", "", weather.Air, false},
	{"dew_point_2m", "dewpoint_2m", weather.DewPoint, false},
	{"relative_humidity_2m", "relativehumidity_2m", weather.Humidity, false},
	{"cloud_cover", "cloudcover", weather.Cloud, false},
	{"wind_speed_10m", "windspeed_10m", weather.Wind, false},
	{"snow_depth", "", weather.SnowDepth, false},
	{"precipitation", "", weather.Precip, true},
	{"snowfall", "", weather.Snowfall, true},
	{"shortwave_radiation", "", weather.Shortwave, true},
}

// Parse reads a forecast document of one place; asked are the models that were
// asked for, whose names the service may add to the fields when there are
// several (the first that has values counts). now becomes the time of issue.
// Times may be epoch seconds or labels with the document's one fixed offset.
func Parse(body []byte, asked []string, now time.Time) (weather.Forecast, error) {
	b, err := decode(body)
	if err != nil {
		return weather.Forecast{}, err
	}
	times, err := b.times()
	f := b.forecast(now)
	if err != nil {
		return f, err
	}
	for _, l := range fields {
		key := b.find(l.field, l.old, asked)
		if key == "" {
			continue
		}
		values, err := b.layer(key, l.quantity, times, l.before)
		if err != nil {
			f.Refused = append(f.Refused, fetch.Refused(key, err))
			continue
		}
		f.Layers[l.quantity] = values
	}
	return f, nil
}

// ParseEnsemble reads an ensemble document into Members. The count and names
// come from the fields themselves: the bare field is the control run, which is
// a member and not a mean.
func ParseEnsemble(body []byte, asked []string, now time.Time) (weather.Forecast, error) {
	b, err := decode(body)
	if err != nil {
		return weather.Forecast{}, err
	}
	times, err := b.times()
	f := b.forecast(now)
	if err != nil {
		return f, err
	}
	for key := range b.Hourly {
		member, ok := memberOf(key, asked)
		if !ok {
			continue
		}
		values, err := b.layer(key, weather.Air, times, false)
		if err != nil {
			f.Refused = append(f.Refused, fetch.Refused(key, err))
			continue
		}
		if slices.ContainsFunc(values, func(iv weather.Interval) bool { return iv.Value.Known() }) {
			f.Members = append(f.Members, weather.Member{Name: member, Air: values})
		}
	}
	slices.SortFunc(f.Members, func(a, b weather.Member) int { return strings.Compare(a.Name, b.Name) })
	slices.SortFunc(f.Refused, func(a, b weather.Refusal) int { return strings.Compare(a.Layer, b.Layer) })
	if len(f.Members) == 0 {
		return f, errors.New("no ensemble members of temperature_2m in it")
	}
	return f, nil
}

var memberForm = regexp.MustCompile(`^temperature_2m(?:_member(\d{2,3}))?(?:_([a-z][a-z0-9_]*))?$`)

// memberOf names the member a field holds: "control" or "member07", with the
// model before it where the field names one. A suffix that is none of the
// models asked for is another quantity; with no models given any suffix passes.
func memberOf(key string, asked []string) (string, bool) {
	m := memberForm.FindStringSubmatch(key)
	if m == nil || m[2] != "" && len(asked) > 0 && !slices.ContainsFunc(asked, func(a string) bool { return strings.HasPrefix(m[2], a) }) {
		return "", false
	}
	member := "control"
	if m[1] != "" {
		member = "member" + m[1]
	}
	if m[2] != "" {
		member = m[2] + "/" + member
	}
	return member, true
}

// decode reads the root, an object or a list of one. A failure told in the
// document, or text after it, happened while the service was writing and passes.
func decode(body []byte) (block, error) {
	dec := json.NewDecoder(bytes.NewReader(body))
	var root json.RawMessage
	if err := dec.Decode(&root); err != nil {
		return block{}, passing("the answer breaks off: " + err.Error())
	}
	if rest, _ := io.ReadAll(dec.Buffered()); len(bytes.TrimSpace(rest)) > 0 {
		return block{}, passing(fmt.Sprintf("text after the document: %.80q", rest))
	}
	var list []block
	if root[0] != '[' {
		list = make([]block, 1)
		if err := json.Unmarshal(root, &list[0]); err != nil {
			return block{}, fmt.Errorf("not a forecast: %w", err)
		}
	} else if err := json.Unmarshal(root, &list); err != nil {
		return block{}, fmt.Errorf("not a list of forecasts: %w", err)
	}
	switch {
	case len(list) != 1:
		return block{}, fmt.Errorf("forecasts for %d places where one was asked for", len(list))
	case list[0].Error:
		return block{}, passing(fmt.Sprintf("%.200q", list[0].Reason))
	}
	return list[0], nil
}

func passing(reason string) error {
	return &fetch.Error{Kind: forecast.ErrUnavailable, URL: "openmeteo", Status: 200, Reason: reason}
}

func (b block) forecast(now time.Time) weather.Forecast {
	return weather.Forecast{
		Source: name, Place: fmt.Sprintf("%g,%g", b.Latitude, b.Longitude), Latitude: b.Latitude, Longitude: b.Longitude,
		Elevation: b.Elevation.Maybe, Issued: now.UTC().Truncate(time.Second), Credit: Credit,
		Layers: map[weather.Quantity][]weather.Interval{},
	}
}

// times reads the time axis as UTC, as its unit label says.
func (b block) times() ([]time.Time, error) {
	switch label := b.Units["time"]; label {
	case "unixtime":
		return axis(b.Hourly["time"], func(s int64) (time.Time, error) { return time.Unix(s, 0).UTC(), nil })
	case "iso8601":
		return axis(b.Hourly["time"], func(s string) (time.Time, error) {
			t, err := time.Parse("2006-01-02T15:04", s)
			return t.Add(-time.Duration(b.Offset) * time.Second), err
		})
	default:
		return nil, fmt.Errorf("hourly_units.time %q: must be unixtime or iso8601", label)
	}
}

func axis[T any](raw json.RawMessage, read func(T) (time.Time, error)) ([]time.Time, error) {
	var stamps []T
	if len(raw) == 0 {
		return nil, errors.New("hourly.time: missing")
	}
	if err := json.Unmarshal(raw, &stamps); err != nil {
		return nil, fmt.Errorf("hourly.time: %w", err)
	}
	out := make([]time.Time, len(stamps))
	for i, s := range stamps {
		var err error
		if out[i], err = read(s); err != nil {
			return nil, fmt.Errorf("hourly.time[%d]: %w", i, err)
		}
		if i > 0 && !out[i].After(out[i-1]) {
			return nil, fmt.Errorf("hourly.time[%d]: not after the one before", i)
		}
	}
	return out, nil
}

// find gives the key a field has in this document: plain, in its old spelling,
// or with the name of a model that was asked for. Empty when it is not there.
func (b block) find(field, old string, asked []string) string {
	keys := []string{field, old}
	for _, m := range asked {
		keys = append(keys, field+"_"+m)
	}
	for _, k := range keys {
		if raw, ok := b.Hourly[k]; ok && k != "" && strings.ContainsAny(string(raw), "0123456789") {
			return k
		}
	}
	for _, k := range keys {
		if _, ok := b.Hourly[k]; ok && k != "" {
			return k
		}
	}
	return ""
}

func (b block) layer(key string, q weather.Quantity, times []time.Time, before bool) ([]weather.Interval, error) {
	var values []fetch.Number
	if err := json.Unmarshal(b.Hourly[key], &values); err != nil {
		return nil, fmt.Errorf("not a list of numbers: %w", err)
	}
	if len(values) != len(times) {
		return nil, fmt.Errorf("%d values for %d times", len(values), len(times))
	}
	if !fetch.KnownLabel(q, b.Units[key]) {
		return nil, fetch.UnknownUnit(b.Units[key], fetch.Labels(q)...)
	}
	out := make([]weather.Interval, len(values))
	for i, n := range values {
		out[i] = spanOf(times, i, before)
		if v, ok := n.Get(); ok {
			x, err := fetch.Convert(q, b.Units[key], v)
			if err != nil {
				return nil, fmt.Errorf("at %s: %w", times[i].Format(time.RFC3339), err)
			}
			out[i].Value = unit.Some(x)
		}
	}
	return fetch.Ordered(out)
}

// spanOf is the interval a value is for: from its stamp to the next one, or
// from the stamp before to its own; at the ends one hour, as in the rest.
func spanOf(times []time.Time, i int, before bool) weather.Interval {
	switch {
	case before && i > 0:
		return weather.Interval{Start: times[i-1], End: times[i]}
	case before:
		return weather.Interval{Start: times[i].Add(-time.Hour), End: times[i]}
	case i+1 < len(times):
		return weather.Interval{Start: times[i], End: times[i+1]}
	}
	return weather.Interval{Start: times[i], End: times[i].Add(time.Hour)}
}
