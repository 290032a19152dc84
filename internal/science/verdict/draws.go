package verdict

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"time"

	"winterstand/internal/unit"
)

// DefaultMembers is the number of courses a deterministic forecast is dressed
// into.
const DefaultMembers = 51

// leadSigma is the error of a forecast night minimum by lead day, K: 1.25 times
// a mean absolute error of about 3.0, 3.3, 3.7, 4.2, 4.8, 5.4, 6.0 °F for days
// 1 to 7 (US night minima, from memory), levelling off after; own default until
// a farm's own verification is long enough.
var leadSigma = [...]float64{2.1, 2.3, 2.6, 2.9, 3.3, 3.8, 4.2, 4.4, 4.5, 4.6}

// dayToDay is the correlation of the error of one night with the next; own default.
const dayToDay = 0.7

// SigmaAt is the standard deviation of the forecast error some hours ahead, K.
// Knots lie on the nights: 12 h ahead is lead day 1, 36 h lead day 2.
func SigmaAt(hoursAhead float64) unit.Kelvins {
	x := hoursAhead/24 - 0.5
	if x <= 0 {
		return unit.Kelvins(leadSigma[0])
	}
	i := int(x)
	if i >= len(leadSigma)-1 {
		return unit.Kelvins(leadSigma[len(leadSigma)-1])
	}
	w := x - float64(i)
	return unit.Kelvins(leadSigma[i]*(1-w) + leadSigma[i+1]*w)
}

// Draw is what one member draws: standard normal numbers, nothing more.
type Draw struct {
	Night [12]float64 // error of the nights by lead day, unit variance, correlated day to day
	Crop  float64     // this member's plants against the catalogue
	Cover float64     // this member's cover against its typical gain
}

// Draws are n members for a seed (place and issue time), so that the same
// forecast gives the same notice. Each dimension is stratified (Latin
// hypercube: McKay, Beckman & Conover 1979), which makes 51 members do the work
// of several hundred independent ones.
func Draws(n int, seed string) []Draw {
	rng := seeded(seed)
	draws := make([]Draw, n)
	for i, row := range correlated(rng, n, len(Draw{}.Night)) {
		copy(draws[i].Night[:], row)
	}
	for i, z := range stratified(rng, n) {
		draws[i].Crop = z
	}
	for i, z := range stratified(rng, n) {
		draws[i].Cover = z
	}
	return draws
}

// NightErrors are the standardised errors of n members on so many nights in a
// row, correlated day to day as those of Draws, for a look back over more nights
// than a forecast reaches.
func NightErrors(n, nights int, seed string) [][]float64 { return correlated(seeded(seed), n, nights) }

// correlated gives n rows of so many nights, each night stratified over the rows.
func correlated(rng *rand.Rand, n, nights int) [][]float64 {
	rows := make([][]float64, n)
	for i := range rows {
		rows[i] = make([]float64, nights)
	}
	for d := range nights {
		for i, z := range stratified(rng, n) {
			if d > 0 {
				z = dayToDay*rows[i][d-1] + math.Sqrt(1-dayToDay*dayToDay)*z
			}
			rows[i][d] = z
		}
	}
	return rows
}

func seeded(s string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(s)) // never fails: hash.Hash
	return rand.New(rand.NewPCG(h.Sum64(), 0x9e3779b97f4a7c15))
}

// stratified gives n standard normal numbers, one from each n-th of the
// distribution, in random order.
func stratified(rng *rand.Rand, n int) []float64 {
	zs := make([]float64, n)
	for i, p := range rng.Perm(n) {
		u := (float64(p) + rng.Float64()) / float64(n)
		u = min(max(u, 1e-9), 1-1e-9)
		zs[i] = math.Sqrt2 * math.Erfinv(2*u-1)
	}
	return zs
}

// ErrorAt is the member's standardised error some hours ahead: unit variance at
// every hour, blended between the nights it was drawn for.
func (d Draw) ErrorAt(hoursAhead float64) float64 {
	return BetweenNights(d.Night[:], hoursAhead/24-0.5)
}

// BetweenNights is the standardised error x nights after the first of a row,
// unit variance everywhere; outside the row that of its end.
func BetweenNights(nights []float64, x float64) float64 {
	if x <= 0 {
		return nights[0]
	}
	i := int(x)
	if i >= len(nights)-1 {
		return nights[len(nights)-1]
	}
	w := x - float64(i)
	v := (1-w)*(1-w) + w*w + 2*w*(1-w)*dayToDay
	return (nights[i]*(1-w) + nights[i+1]*w) / math.Sqrt(v)
}

// SeedFor is the seed of a place and an issue.
func SeedFor(place string, issued time.Time) string {
	return place + "@" + issued.UTC().Format(time.RFC3339)
}
