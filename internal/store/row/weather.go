package row

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/weather"
)

// CellValues are key, latitude, longitude, elevation_m, time_zone, sources,
// warnings, resolved_at.
func CellValues(c store.Cell) ([]any, error) {
	return values(text("key", c.Key), number("latitude", c.Latitude), number("longitude", c.Longitude),
		maybeNumber("elevation_m", c.Elevation), text("time_zone", c.TimeZone),
		list("sources", c.Sources), list("warnings", c.Warnings), instantOrNull(c.ResolvedAt))
}

// ScanCell reads id and the columns of CellValues.
func ScanCell(scan Scan) (c store.Cell, err error) {
	err = scan(&c.ID, &c.Key, &c.Latitude, &c.Longitude, maybeOf(&c.Elevation), &c.TimeZone,
		nestedOf(&c.Sources), nestedOf(&c.Warnings), instant{&c.ResolvedAt})
	return c, err
}

// ForecastValues are cell_id, source, issued_at, fetched_at, checked_at,
// expires_at, last_modified, etag, body.
func ForecastValues(f store.Forecast) ([]any, error) {
	return values(f.CellID, text("source", f.Source), Instant(f.Issued), Instant(f.Fetched),
		Instant(f.Checked), instantOrNull(f.Expires), text("last_modified", f.LastModified),
		text("etag", f.ETag), pack(f.Body))
}

// CheckValues are cell_id, source, issued_at, checked_at, expires_at,
// last_modified, etag: what a repeated issue changes, with its key.
func CheckValues(f store.Forecast) ([]any, error) {
	return values(f.CellID, text("source", f.Source), Instant(f.Issued), Instant(f.Checked),
		instantOrNull(f.Expires), text("last_modified", f.LastModified), text("etag", f.ETag))
}

// ScanForecast reads id and the columns of ForecastValues.
func ScanForecast(scan Scan) (f store.Forecast, err error) {
	var body []byte
	err = scan(&f.ID, &f.CellID, &f.Source, instant{&f.Issued}, instant{&f.Fetched},
		instant{&f.Checked}, instant{&f.Expires}, &f.LastModified, &f.ETag, &body)
	if err != nil {
		return f, err
	}
	f.Body, err = unpack(body)
	return f, err
}

// pack compresses a forecast: gzip of its JSON.
func pack(f weather.Forecast) any {
	if err := finite(f); err != nil {
		return fmt.Errorf("body: %w", err)
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if err := errors.Join(json.NewEncoder(z).Encode(f), z.Close()); err != nil {
		return fmt.Errorf("body: %w", err)
	}
	return b.Bytes()
}

func unpack(body []byte) (f weather.Forecast, err error) {
	defer Wrap(&err, "body")
	z, err := gzip.NewReader(bytes.NewReader(body))
	if err != nil {
		return f, err
	}
	plain, err := io.ReadAll(z)
	if err != nil {
		return f, err
	}
	err = json.Unmarshal(plain, &f)
	return f, err
}

// finite names the first value of a forecast that is not a number.
func finite(f weather.Forecast) error {
	for layer, course := range f.Layers {
		if err := finiteCourse("layer "+string(layer), course); err != nil {
			return err
		}
	}
	for _, m := range f.Members {
		if err := finiteCourse("member "+m.Name, m.Air); err != nil {
			return err
		}
	}
	return nil
}

func finiteCourse(name string, course []weather.Interval) error {
	for _, i := range course {
		if v, ok := i.Value.Get(); ok && (math.IsNaN(v) || math.IsInf(v, 0)) {
			return fmt.Errorf("%s at %s: must be a finite number, not %v", name, i.Start.UTC().Format(time.RFC3339), v)
		}
	}
	return nil
}

// origins from weakest to strongest; the rank kept is the place in this list.
var origins = []weather.Origin{weather.Analysis, weather.Reanalysis, weather.Observation, weather.Import}

// Rank of an origin: a higher one overrides a lower.
func Rank(o weather.Origin) (int64, error) {
	if i := slices.Index(origins, o); i >= 0 {
		return int64(i), nil
	}
	return 0, fmt.Errorf("origin %q: must be one of %v", o, origins)
}

// HourValues are cell_id, at, origin_rank, air_c, dew_point_c, wind_ms,
// cloud_fraction, precip_mm, snow_depth_cm, shortwave_wm2.
func HourValues(cellID, rank int64, h weather.Hour) ([]any, error) {
	if !h.At.Equal(h.At.Truncate(time.Hour)) {
		return nil, fmt.Errorf("hour %s: must begin on a full UTC hour", h.At.UTC().Format(time.RFC3339))
	}
	vs, err := values(cellID, Instant(h.At), rank,
		maybeNumber("air_c", h.Air), maybeNumber("dew_point_c", h.DewPoint),
		maybeNumber("wind_ms", h.Wind), maybeNumber("cloud_fraction", h.Cloud),
		maybeNumber("precip_mm", h.Precip), maybeNumber("snow_depth_cm", h.SnowDepth),
		maybeNumber("shortwave_wm2", h.Shortwave))
	Wrap(&err, "hour %s", h.At.UTC().Format(time.RFC3339))
	return vs, err
}

// HoursValues are the rows of several hours by ascending time; where an hour is
// given twice the last counts.
func HoursValues(cellID int64, origin weather.Origin, hours []weather.Hour) ([][]any, error) {
	rank, err := Rank(origin)
	if err != nil {
		return nil, err
	}
	byTime := make(map[int64][]any, len(hours))
	for _, h := range hours {
		if byTime[Instant(h.At)], err = HourValues(cellID, rank, h); err != nil {
			return nil, err
		}
	}
	return sorted(byTime), nil
}

// ScanHour reads at and the quantities of HourValues.
func ScanHour(scan Scan) (h weather.Hour, err error) {
	err = scan(instant{&h.At}, maybeOf(&h.Air), maybeOf(&h.DewPoint), maybeOf(&h.Wind),
		maybeOf(&h.Cloud), maybeOf(&h.Precip), maybeOf(&h.SnowDepth), maybeOf(&h.Shortwave))
	return h, err
}

// CheckpointsValues are rows of cell_id, class, as_of, body, by class.
func CheckpointsValues(cellID int64, byClass map[string]store.Checkpoint) ([][]any, error) {
	rows := make(map[string][]any, len(byClass))
	for class, c := range byClass {
		vs, err := values(cellID, text("class", class), Instant(c.AsOf), orNone(c.Body))
		if err != nil {
			return nil, err
		}
		rows[class] = vs
	}
	return sorted(rows), nil
}

// NamedCheckpoint is a checkpoint with its class.
type NamedCheckpoint struct {
	Class string
	store.Checkpoint
}

// ScanCheckpoint reads class, as_of, body.
func ScanCheckpoint(scan Scan) (c NamedCheckpoint, err error) {
	err = scan(&c.Class, instant{&c.AsOf}, &c.Body)
	return c, err
}
