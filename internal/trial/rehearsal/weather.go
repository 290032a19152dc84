// Package rehearsal is an invented farm with an invented winter, played through
// the real service: a local stand-in speaks the public forecast's wire format,
// a local mail server and text gateway keep what is sent. Nothing here is data:
// it shows and tries the program.
package rehearsal

import (
	"math"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Winter is an invented course of weather: a yearly and a daily wave, weather
// systems out of smooth noise, and cold snaps where the story needs them.
type Winter struct {
	Latitude float64
	Seed     uint64
	Snaps    []Snap
	Outages  []Outage
}

// Outage is when the forecast service does not answer.
type Outage struct{ From, To time.Time }

// Snap is a fall of cold air: it comes in within a day, lasts, and eases.
type Snap struct {
	At    time.Time // the morning it is coldest
	Depth unit.Kelvins
	Days  float64 // half width
	Clear bool    // under a clear, still sky
}

// The yearly wave of the invented place.
const (
	yearMean   = 6.5  // °C
	yearSwing  = 14.5 // K
	coldestDay = 22
	daySwing   = 4.0 // K, under half cloud
)

// At is the weather of the hour that begins at t.
func (w Winter) At(t time.Time) weather.Hour {
	cloud := w.cloud(t)
	air := yearMean - yearSwing*math.Cos(2*math.Pi*(dayOfYear(t)-coldestDay)/365.25)
	air += 3.5*w.noise(1, t, 110*time.Hour) + 1.5*w.noise(2, t, 40*time.Hour)
	air += daySwing * (1.5 - cloud) * daily(t)
	for _, s := range w.Snaps {
		air -= float64(s.Depth) * bell(t, s)
	}
	wind := math.Max(0.5, 4+3*w.noise(3, t, 30*time.Hour)-2.5*w.stillness(t))
	rain := w.rain(t, cloud)
	dew := air - 1 - 4*(1-cloud)*(1+w.noise(5, t, 50*time.Hour))/2
	return weather.Hour{
		At: t.UTC().Truncate(time.Hour), Air: unit.Some(unit.Celsius(air)), DewPoint: unit.Some(unit.Celsius(dew)),
		Wind: unit.Some(wind), Cloud: unit.Some(cloud), Precip: unit.Some(rain),
	}
}

func (w Winter) cloud(t time.Time) float64 {
	c := 0.55 + 0.6*w.noise(4, t, 45*time.Hour)
	return math.Min(1, math.Max(0, c*(1-0.9*w.stillness(t))))
}

// stillness is how much a clear snap rules, 0..1.
func (w Winter) stillness(t time.Time) float64 {
	most := 0.0
	for _, s := range w.Snaps {
		if s.Clear {
			most = math.Max(most, bell(t, s))
		}
	}
	return most
}

// rain falls, or snow, where the sky is thick; mm in the hour.
func (w Winter) rain(t time.Time, cloud float64) float64 {
	if wet := w.noise(6, t, 36*time.Hour); cloud > 0.6 && wet > 0.25 {
		return 2.2 * (wet - 0.25)
	}
	return 0
}

// daily is the wave of a day by local solar time at the invented place: lowest
// near six, highest in the early afternoon.
func daily(t time.Time) float64 {
	h := float64(t.UTC().Hour()) + float64(t.Minute())/60 - 4.5
	return math.Sin(2 * math.Pi * (h - 9.5) / 24)
}

func bell(t time.Time, s Snap) float64 {
	d := t.Sub(s.At).Hours() / 24 / s.Days
	return math.Exp(-d * d)
}

func dayOfYear(t time.Time) float64 {
	return float64(t.UTC().YearDay()) + float64(t.UTC().Hour())/24
}

// noise is smooth, between about -1 and 1, and the same for the same seed.
func (w Winter) noise(kind uint64, t time.Time, period time.Duration) float64 {
	return smooth(w.Seed*1000003+kind, float64(t.Unix())/period.Seconds())
}

// smooth joins random values at whole numbers by a cosine.
func smooth(seed uint64, x float64) float64 {
	i := math.Floor(x)
	f := (1 - math.Cos(math.Pi*(x-i))) / 2
	return lattice(seed, int64(i))*(1-f) + lattice(seed, int64(i)+1)*f
}

// lattice is a number in -1..1 for a place (SplitMix64, Steele, Lea & Flood 2014).
func lattice(seed uint64, i int64) float64 {
	z := seed + uint64(i)*0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return float64(z>>11)/float64(1<<52) - 1
}

// Forecast is what was forecast at a time of issue: the truth with an error
// that grows with the lead and changes slowly from issue to issue.
func (w Winter) Forecast(issued time.Time, hours int) []weather.Hour {
	out := make([]weather.Hour, hours)
	for i := range out {
		t := issued.UTC().Truncate(time.Hour).Add(time.Duration(i) * time.Hour)
		h := w.At(t)
		lead := float64(i) / 24
		wrong := (0.5 + 0.45*lead) * (w.noise(7, t, 60*time.Hour) + 0.6*w.noise(8, issued.Add(t.Sub(issued)/3), 30*time.Hour))
		air, _ := h.Air.Get()
		h.Air = unit.Some(air + unit.Celsius(wrong))
		if dew, _ := h.DewPoint.Get(); dew > air+unit.Celsius(wrong) {
			h.DewPoint = h.Air
		}
		out[i] = h
	}
	return out
}

// Past is what happened at full hours from ≤ h < to.
func (w Winter) Past(from, to time.Time) []weather.Hour {
	var out []weather.Hour
	for t := from.UTC().Truncate(time.Hour); t.Before(to); t = t.Add(time.Hour) {
		if !t.Before(from) {
			out = append(out, w.At(t))
		}
	}
	return out
}
