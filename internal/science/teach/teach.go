// Package teach learns what a farm's own crops stand from what its growers
// found after frosts: a shift of the catalogue's tolerance, with its evidence.
// Pure: the caller plays the nights.
package teach

import (
	"math"

	"winterstand/internal/unit"
)

// Night is what one finding has to say: the loss that was seen, and the loss
// that the model would have given for each shift of the tolerance on the grid.
type Night struct {
	Seen     float64   // lost share, 0..1
	Expected []float64 // by Shifts()
}

// Learned is the shift of a tolerance.
type Learned struct {
	Offset unit.Kelvins // posterior mean; negative: stands more than the book
	Sigma  unit.Kelvins // posterior standard deviation
	Nights int          // that had something to say
}

// The grid of shifts, K.
const (
	reach = 8.0
	step  = 0.25
)

// seenError is how far a grower's estimate of a lost share is off (standard
// deviation), own default: people judge to about a sixth of a bed.
const seenError = 0.15

// leastExposure: a night for which every plausible shift gives the same loss
// has nothing to say.
const leastExposure = 0.05

// Shifts are the places of the grid, K.
func Shifts() []unit.Kelvins {
	var out []unit.Kelvins
	for x := -reach; x <= reach+step/2; x += step {
		out = append(out, unit.Kelvins(x))
	}
	return out
}

// Learn gives the posterior of the shift: a normal prior about the catalogue
// with its spread, and for each exposed night a normal error of the seen share
// about the expected one (Bayes on a grid). Nights without exposure, within two
// spreads of the prior, are left out.
func Learn(spread unit.Kelvins, nights []Night) Learned {
	shifts := Shifts()
	weight := make([]float64, len(shifts))
	for i, x := range shifts {
		weight[i] = -sq(float64(x)/float64(spread)) / 2
	}
	used := 0
	for _, n := range nights {
		if !exposed(n, shifts, spread) {
			continue
		}
		used++
		for i := range shifts {
			weight[i] -= sq((n.Seen-n.Expected[i])/seenError) / 2
		}
	}
	mean, sd := moments(shifts, weight)
	return Learned{Offset: unit.Kelvins(mean), Sigma: unit.Kelvins(sd), Nights: used}
}

func exposed(n Night, shifts []unit.Kelvins, spread unit.Kelvins) bool {
	least, most := math.Inf(1), math.Inf(-1)
	for i, x := range shifts {
		if x >= -2*spread && x <= 2*spread {
			least, most = math.Min(least, n.Expected[i]), math.Max(most, n.Expected[i])
		}
	}
	return most-least >= leastExposure
}

// moments of a distribution given by the logarithms of its weights.
func moments(shifts []unit.Kelvins, logs []float64) (mean, sd float64) {
	top := math.Inf(-1)
	for _, l := range logs {
		top = math.Max(top, l)
	}
	total, sum, squares := 0.0, 0.0, 0.0
	for i, l := range logs {
		w, x := math.Exp(l-top), float64(shifts[i])
		total += w
		sum += w * x
		squares += w * x * x
	}
	mean = sum / total
	return mean, math.Sqrt(math.Max(0, squares/total-mean*mean))
}

func sq(x float64) float64 { return x * x }
