package supply

import (
	"fmt"
	"maps"
	"math"
)

// Stock is the books of one crop on one farm: every kilogram is in one place.
// Each move gives a new Stock and leaves the old one as it was.
type Stock struct {
	Beds  map[int64]float64 // standing, kg
	Lots  map[int64]float64 // stored, kg
	Sold  float64           // sold or eaten
	Gone  float64           // spoiled in store, or lost in the field
	Found float64           // lifted beyond what the bed was thought to hold
}

func (s Stock) copy() Stock {
	s.Beds, s.Lots = maps.Clone(s.Beds), maps.Clone(s.Lots)
	if s.Beds == nil {
		s.Beds = map[int64]float64{}
	}
	if s.Lots == nil {
		s.Lots = map[int64]float64{}
	}
	return s
}

// Standing is what is in the ground, Stored what is in the rooms, in kg.
func (s Stock) Standing() float64 { return sum(s.Beds) }

// Stored is what is in the rooms, in kg.
func (s Stock) Stored() float64 { return sum(s.Lots) }

func sum(m map[int64]float64) float64 {
	kg := 0.0
	for _, v := range m {
		kg += v
	}
	return kg
}

// Harvest moves kilograms from a bed into a lot. A bed that gives more than it
// was thought to hold is then empty, and the rest is counted as found.
func (s Stock) Harvest(bed, lot int64, kg float64) (Stock, error) {
	if !within(kg) {
		return s, fmt.Errorf("harvest of bed %d: must be 0 kg or more, not %g", bed, kg)
	}
	s = s.copy()
	from := math.Min(kg, s.Beds[bed])
	s.Beds[bed] -= from
	s.Lots[lot] += kg
	s.Found += kg - from
	return s, nil
}

// Sell takes kilograms out of a lot.
func (s Stock) Sell(lot int64, kg float64) (Stock, error) {
	s, err := s.take(lot, kg)
	if err == nil {
		s.Sold += kg
	}
	return s, err
}

// Spoil writes off kilograms of a lot.
func (s Stock) Spoil(lot int64, kg float64) (Stock, error) {
	s, err := s.take(lot, kg)
	if err == nil {
		s.Gone += kg
	}
	return s, err
}

// Lose writes off kilograms of a bed.
func (s Stock) Lose(bed int64, kg float64) (Stock, error) {
	if !within(kg) || kg > s.Beds[bed]+dust {
		return s, fmt.Errorf("bed %d holds %g kg: cannot lose %g kg", bed, s.Beds[bed], kg)
	}
	s = s.copy()
	s.Beds[bed] = math.Max(0, s.Beds[bed]-kg)
	s.Gone += kg
	return s, nil
}

// Store moves kilograms from one lot to another, as from one room to another.
func (s Stock) Store(from, to int64, kg float64) (Stock, error) {
	s, err := s.take(from, kg)
	if err == nil {
		s.Lots[to] += kg
	}
	return s, err
}

// dust is what sums of decimal kilograms may be off by: taking "all of it" must
// not fail for a millionth of a gram.
const dust = 1e-9

func (s Stock) take(lot int64, kg float64) (Stock, error) {
	if !within(kg) || kg > s.Lots[lot]+dust {
		return s, fmt.Errorf("lot %d holds %g kg: cannot take %g kg", lot, s.Lots[lot], kg)
	}
	s = s.copy()
	s.Lots[lot] = math.Max(0, s.Lots[lot]-kg)
	return s, nil
}
