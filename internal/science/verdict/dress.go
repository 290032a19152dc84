package verdict

import (
	"math"
	"slices"
	"time"

	"winterstand/internal/science/bed"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Spread tells where the members come from.
const (
	FromDressing    = "dressed"     // a single forecast with its usual error
	FromPercentiles = "percentiles" // the source's own 10th and 90th percentiles, inflated
	FromEnsemble    = "ensemble"    // the source's own members, inflated
)

// normalP90 is the 90th percentile of the standard normal distribution.
const normalP90 = 1.2815515655446004

// inflation of percentiles and the least share of the usual error that members
// of an ensemble must span: in an open data set the observation fell below every
// member on 7 to 10 % of days. Own defaults until a farm's verification is long
// enough.
const (
	inflation     = 1.25
	ensembleFloor = 0.8
	leastErrorK   = 0.5
)

// Dress makes members out of a forecast: its own percentiles or ensemble where
// it has them, else its usual error by lead time. hours are those of
// weather.Hours from the current hour on; seed is SeedFor of cell and issue.
func Dress(f weather.Forecast, hours []weather.Hour, now time.Time, n int, seed string) ([]bed.Member, string) {
	if len(hours) == 0 {
		return nil, FromDressing
	}
	draws := Draws(n, seed)
	sigma := usualError(hours, now)
	from := FromDressing
	if widths, ok := percentileError(f, hours); ok {
		from = FromPercentiles
		merge(sigma, widths)
	}
	members := make([]bed.Member, n)
	for i, d := range draws {
		members[i] = bed.Member{Error: make([]unit.Kelvins, len(hours)), Crop: d.Crop, Cover: d.Cover}
		for h := range hours {
			members[i].Error[h] = unit.Kelvins(d.ErrorAt(ahead(hours[h], now))) * sigma[h]
		}
	}
	if departFromEnsemble(f, hours, now, draws, members) {
		from = FromEnsemble
	}
	return members, from
}

func ahead(h weather.Hour, now time.Time) float64 { return max(0, h.At.Sub(now).Hours()) }

func usualError(hours []weather.Hour, now time.Time) []unit.Kelvins {
	out := make([]unit.Kelvins, len(hours))
	for i, h := range hours {
		out[i] = SigmaAt(ahead(h, now))
	}
	return out
}

// merge takes the stated width where there is one.
func merge(sigma []unit.Kelvins, stated []unit.Maybe[unit.Kelvins]) {
	for i, s := range stated {
		if k, ok := s.Get(); ok {
			sigma[i] = k
		}
	}
}

// percentileError is σ from the 10th and 90th percentile, inflated.
func percentileError(f weather.Forecast, hours []weather.Hour) ([]unit.Maybe[unit.Kelvins], bool) {
	if len(f.Layers[weather.AirP10]) == 0 || len(f.Layers[weather.AirP90]) == 0 {
		return nil, false
	}
	out := make([]unit.Maybe[unit.Kelvins], len(hours))
	any := false
	for i, s := range weather.Spreads(f, hours[0].At, hours[len(hours)-1].At.Add(time.Hour)) {
		lo, okLo := s.P10.Get()
		hi, okHi := s.P90.Get()
		if okLo && okHi && hi >= lo && i < len(out) {
			k := hi.Minus(lo) / (2 * normalP90) * inflation
			out[i], any = unit.Some(max(k, leastErrorK)), true
		}
	}
	return out, any
}

// departFromEnsemble replaces the errors by the departures of the source's own
// members, each with a residual error that brings the whole to at least
// ensembleFloor of the usual error. Hours that a member does not have keep the
// dressed error.
func departFromEnsemble(f weather.Forecast, hours []weather.Hour, now time.Time, draws []Draw, members []bed.Member) bool {
	if len(f.Members) < 2 {
		return false
	}
	from, to := hours[0].At, hours[len(hours)-1].At.Add(time.Hour)
	courses := make([][]unit.Maybe[unit.Celsius], len(f.Members))
	for i, m := range f.Members {
		courses[i] = m.Course(from, to)
	}
	used := false
	for h := range hours {
		base, ok := hours[h].Air.Get()
		present := presentAt(courses, h)
		if !ok || len(present) < 2 {
			continue
		}
		used = true
		residual := residualError(present, SigmaAt(ahead(hours[h], now)))
		for i := range members {
			own, has := courses[i%len(courses)][h].Get()
			if has {
				members[i].Error[h] = own.Minus(base) + unit.Kelvins(draws[i].ErrorAt(ahead(hours[h], now)))*residual
			}
		}
	}
	return used
}

func presentAt(courses [][]unit.Maybe[unit.Celsius], h int) []float64 {
	var out []float64
	for _, c := range courses {
		if v, ok := c[h].Get(); ok {
			out = append(out, float64(v))
		}
	}
	return out
}

// residualError is what the members lack to the least spread. The spread is that
// among the members that there are, not of what they are a sample of.
func residualError(present []float64, usual unit.Kelvins) unit.Kelvins {
	mean, sum := 0.0, 0.0
	for _, v := range present {
		mean += v / float64(len(present))
	}
	for _, v := range present {
		sum += (v - mean) * (v - mean) / float64(len(present))
	}
	want := float64(usual) * ensembleFloor
	return unit.Kelvins(math.Sqrt(max(want*want-sum, leastErrorK*leastErrorK)))
}

// Quantile of values, 0..1, by the nearest rank; the values are sorted in place.
func Quantile(vs []float32, q float64) float32 {
	slices.Sort(vs)
	i := int(math.Ceil(q*float64(len(vs)))) - 1
	return vs[min(max(i, 0), len(vs)-1)]
}
