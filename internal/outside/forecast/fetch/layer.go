package fetch

import (
	"fmt"
	"slices"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/weather"
)

// longestInterval bounds what one value may claim to cover; real documents stay
// below ten days. Own default, so that no document can make us expand years.
const longestInterval = 31 * 24 * time.Hour

// Ordered sorts a layer, drops exact duplicates and cuts what says the same
// twice. Two different values for the same time make the whole layer doubtful:
// nothing tells which is meant.
func Ordered(layer []weather.Interval) ([]weather.Interval, error) {
	sorted := slices.Clone(layer)
	slices.SortStableFunc(sorted, func(a, b weather.Interval) int { return a.Start.Compare(b.Start) })
	var out []weather.Interval
	for _, iv := range sorted {
		switch length := iv.End.Sub(iv.Start); {
		case length <= 0:
			return nil, doubtful(weather.BadTime, stamp(iv.Start), "interval at %s: ends before it starts", stamp(iv.Start))
		case length > longestInterval:
			return nil, doubtful(weather.BadTime, stamp(iv.Start), "interval at %s: longer than %d days", stamp(iv.Start), longestInterval/24/time.Hour)
		}
		if n := len(out); n > 0 && iv.Start.Before(out[n-1].End) {
			if out[n-1].Value != iv.Value || !out[n-1].Start.Equal(iv.Start) || !out[n-1].End.Equal(iv.End) {
				return nil, doubtful(weather.BadTime, stamp(iv.Start), "intervals at %s and %s overlap with different values", stamp(out[n-1].Start), stamp(iv.Start))
			}
			continue
		}
		out = append(out, iv)
	}
	return out, nil
}

// ByHour breaks the intervals of a run-length coded layer of instants into
// hours; a rest shorter than an hour stays.
func ByHour(layer []weather.Interval) []weather.Interval {
	var out []weather.Interval
	for _, iv := range layer {
		for at := iv.Start; at.Before(iv.End); at = at.Add(time.Hour) {
			end := at.Add(time.Hour)
			if end.After(iv.End) {
				end = iv.End
			}
			out = append(out, weather.Interval{Start: at, End: end, Value: iv.Value})
		}
	}
	return out
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// Usable fails for a forecast without a single known temperature, naming why
// the layer was refused if it was.
func Usable(f weather.Forecast) error {
	for _, iv := range f.Layers[weather.Air] {
		if iv.Value.Known() {
			return nil
		}
	}
	return &forecast.NoAir{Refused: f.Refused}
}

// ElevationWarning tells when field and cell differ by more than the air
// changes by about 1 K (150 m at the standard 6.5 K/km, ICAO standard
// atmosphere); empty when they do not or one is unknown.
func ElevationWarning(p forecast.Point, f weather.Forecast) string {
	field, ok := p.Elevation.Get()
	cell, okC := f.Elevation.Get()
	if d := field - cell; ok && okC && (d > 150 || d < -150) {
		return fmt.Sprintf("the forecast is for %.0f m above sea level, the field lies at %.0f m: expect about %+.1f K", cell, field, -6.5*d/1000)
	}
	return ""
}
