package skill

import (
	"slices"
	"time"

	"winterstand/internal/unit"
)

// Contingency counts yes-or-no verdicts against yes-or-no outcomes.
type Contingency struct {
	Hits             int `json:"hits"`              // said so, and it came
	Misses           int `json:"misses"`            // not said, and it came
	FalseAlarms      int `json:"false_alarms"`      // said so, and it did not come
	CorrectNegatives int `json:"correct_negatives"` // not said, and it did not come
}

// Cases is the number of rows.
func (c Contingency) Cases() int { return c.Hits + c.Misses + c.FalseAlarms + c.CorrectNegatives }

// Events is the number of rows in which the loss came.
func (c Contingency) Events() int { return c.Hits + c.Misses }

// HitRate is the share of events that were announced.
func (c Contingency) HitRate() unit.Maybe[float64] {
	return ratio(float64(c.Hits), float64(c.Events()))
}

// FalseAlarmRatio is the share of announcements that came to nothing.
func (c Contingency) FalseAlarmRatio() unit.Maybe[float64] {
	return ratio(float64(c.FalseAlarms), float64(c.Hits+c.FalseAlarms))
}

// FalseAlarmRate is the share of quiet rows for which an event was announced.
func (c Contingency) FalseAlarmRate() unit.Maybe[float64] {
	return ratio(float64(c.FalseAlarms), float64(c.FalseAlarms+c.CorrectNegatives))
}

// ThreatScore is hits over everything but the correct negatives.
func (c Contingency) ThreatScore() unit.Maybe[float64] {
	return ratio(float64(c.Hits), float64(c.Hits+c.Misses+c.FalseAlarms))
}

// tally counts rows under a rule that says when it would have acted.
func tally(rows []scored, acts func(scored) bool) Contingency {
	var c Contingency
	for _, r := range rows {
		switch acted := acts(r); {
		case acted && r.event:
			c.Hits++
		case acted:
			c.FalseAlarms++
		case r.event:
			c.Misses++
		default:
			c.CorrectNegatives++
		}
	}
	return c
}

// Lead is the time between notice and loss over the hits.
type Lead struct {
	Hits     int                 `json:"hits"`
	Shortest unit.Maybe[float64] `json:"shortest_h"` // hours
	Median   unit.Maybe[float64] `json:"median_h"`
	Longest  unit.Maybe[float64] `json:"longest_h"`
}

func leadOf(rows []scored) Lead {
	var leads []time.Duration
	for _, r := range rows {
		if r.Acted && r.event {
			leads = append(leads, r.Lead)
		}
	}
	if len(leads) == 0 {
		return Lead{}
	}
	slices.Sort(leads)
	n := len(leads)
	middle := (leads[(n-1)/2].Hours() + leads[n/2].Hours()) / 2
	return Lead{Hits: n, Shortest: unit.Some(leads[0].Hours()), Median: unit.Some(middle), Longest: unit.Some(leads[n-1].Hours())}
}

// byLead scores each number of days ahead by itself, the nearest first.
func byLead(rows []scored, bins int) []DayScore {
	groups := map[int][]scored{}
	var days []int
	for _, r := range rows {
		if groups[r.LeadDays] == nil {
			days = append(days, r.LeadDays)
		}
		groups[r.LeadDays] = append(groups[r.LeadDays], r)
	}
	slices.Sort(days)
	out := make([]DayScore, 0, len(days))
	for _, d := range days {
		g := groups[d]
		out = append(out, DayScore{LeadDays: d, Verdicts: tally(g, func(s scored) bool { return s.Acted }), Brier: brierOf(g, bins)})
	}
	return out
}
