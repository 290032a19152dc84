package farm

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

// Defaults of the contract.
func TestANewFarm(t *testing.T) {
	now := time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)
	assert.Equal(t, Farm{Name: "Hill Farm", Units: "metric", Language: "en", Currency: "USD", NoticeLead: 3 * 24 * time.Hour,
		MovedStep: 6 * time.Hour, BlindAfter: 24 * time.Hour, WindChillLimit: -20, StillWatching: true, CreatedAt: now}, New("Hill Farm", now))
}

func TestTheRatioIsOfThePurposeUnlessSet(t *testing.T) {
	for purpose, want := range map[Purpose]float64{Fresh: 0.2, Storing: 0.15, Overwinter: 0.5, Household: 0.3, "": 0.2} {
		assert.Equal(t, want, Bed{Purpose: purpose}.CostLoss(), purpose)
	}
	assert.Equal(t, 0.0, Bed{Purpose: Overwinter, CostLossSet: unit.Some(0.0)}.CostLoss(), "a set ratio, zero or not")
}

// A cover lies from its first day to the day it is taken off, that one not
// counted; of two the one put on last counts, of two put on together the second.
func TestTheCoverOfADay(t *testing.T) {
	b := Bed{Covers: []Cover{
		{Kind: "high_tunnel", On: "2025-10-01"},
		{Kind: "row_cover_light", On: "2025-11-01", Off: "2025-11-10"},
		{Kind: "row_cover_heavy", On: "2025-11-01", Off: "2025-11-05"},
		{Kind: "low_tunnel", On: "2025-09-20", Off: "2025-11-20"},
	}}
	for day, want := range map[Day]string{
		"2025-09-19": "none", "2025-09-20": "low_tunnel", "2025-10-01": "high_tunnel", "2025-10-31": "high_tunnel",
		"2025-11-01": "row_cover_heavy", "2025-11-04": "row_cover_heavy", "2025-11-05": "row_cover_light",
		"2025-11-09": "row_cover_light", "2025-11-10": "high_tunnel", "2026-03-01": "high_tunnel",
	} {
		assert.Equal(t, want, b.CoverOn(day), day)
	}
}

func TestTheMulchOfADay(t *testing.T) {
	b := Bed{Mulches: []Mulch{{Cm: 20, On: "2025-11-10"}, {Cm: 5}, {Cm: 10, On: "2025-11-01"}, {Cm: 0, On: "2025-12-01"}, {Cm: 15, On: "2025-11-10"}}}
	for day, want := range map[Day]float64{"2025-10-31": 5, "2025-11-01": 10, "2025-11-09": 10, "2025-11-10": 15, "2025-11-30": 15, "2025-12-01": 0} {
		assert.Equal(t, want, b.MulchOn(day), day)
	}
	assert.Zero(t, Bed{}.MulchOn("2025-11-01"))
}

func TestTheAirOfARoomIsDated(t *testing.T) {
	from := time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)
	r := Room{Kind: Cellar, Temperature: 4, Humidity: unit.Some(0.9)}
	assert.Equal(t, RoomAir{From: from, Kind: "cellar", Temperature: 4, Humidity: unit.Some(0.9)}, r.Air(from))
}
