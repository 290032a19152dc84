package app_test

import (
	"math"
	"net/http"
	"sync"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/trial/standin"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// sky is a forecast under the test's control: a low for every night and a high
// for every day, joined by half cosines (low at six, high at three in the
// afternoon). What has passed stays as it was forecast last.
type sky struct {
	zone *time.Location

	mu    sync.Mutex
	low   float64 // °C, of nights not named below
	high  float64
	lows  map[farm.Day]float64 // by the evening the night begins
	highs map[farm.Day]float64
	cloud float64
}

func newSky(zone *time.Location, low, high float64) *sky {
	return &sky{zone: zone, low: low, high: high, lows: map[farm.Day]float64{}, highs: map[farm.Day]float64{}, cloud: 0.6}
}

// night sets the low of a night, in °C.
func (s *sky) night(d farm.Day, low float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lows[d] = low
}

// day sets the high of a day, in °C.
func (s *sky) day(d farm.Day, high float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.highs[d] = high
}

func (s *sky) lowOf(d farm.Day) float64 {
	if v, ok := s.lows[d]; ok {
		return v
	}
	return s.low
}

func (s *sky) highOf(d farm.Day) float64 {
	if v, ok := s.highs[d]; ok {
		return v
	}
	return s.high
}

func (s *sky) at(t time.Time) weather.Hour {
	l := t.In(s.zone)
	day, h := farm.DayOf(t, s.zone), float64(l.Hour())
	var air float64
	switch {
	case h < 6:
		air = between(s.highOf(day.Add(-1)), s.lowOf(day.Add(-1)), (h+9)/15)
	case h < 15:
		air = between(s.lowOf(day.Add(-1)), s.highOf(day), (h-6)/9)
	default:
		air = between(s.highOf(day), s.lowOf(day), (h-15)/15)
	}
	return weather.Hour{At: t.UTC(), Air: unit.Some(unit.Celsius(air)), DewPoint: unit.Some(unit.Celsius(air - 2)),
		Wind: unit.Some(2.0), Cloud: unit.Some(s.cloud), Precip: unit.Some(0.0)}
}

func between(from, to, part float64) float64 {
	return from + (to-from)*(1-math.Cos(math.Pi*part))/2
}

// hours of the sky in [from, to).
func (s *sky) hours(from, to time.Time) []weather.Hour {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []weather.Hour
	for t := from.UTC().Truncate(time.Hour); t.Before(to); t = t.Add(time.Hour) {
		if !t.Before(from) {
			out = append(out, s.at(t))
		}
	}
	return out
}

// forecast is what the stand-in serves.
func (s *sky) forecast(_ standin.Place, issued time.Time) []weather.Hour {
	from := issued.Truncate(time.Hour).Add(-6 * time.Hour)
	return s.hours(from, from.Add(188*time.Hour))
}

func (s *sky) past(_ standin.Place, from, to time.Time) []weather.Hour { return s.hours(from, to) }

// front stands before the stand-in and may answer in its place.
type front struct {
	behind http.Handler

	mu      sync.Mutex
	instead func(w http.ResponseWriter, r *http.Request, behind http.Handler)
	asked   map[string]int // requests by path
}

func (f *front) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	f.mu.Lock()
	instead := f.instead
	f.asked[r.URL.Path]++
	f.mu.Unlock()
	if instead != nil {
		instead(w, r, f.behind)
		return
	}
	f.behind.ServeHTTP(w, r)
}

// answer puts a handler before the stand-in; nil takes it away.
func (f *front) answer(with func(w http.ResponseWriter, r *http.Request, behind http.Handler)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.instead = with
}
