// Package skill scores past verdicts against what the nights brought: hits and
// misses, lead time, whether a stated likelihood came true as often as stated,
// and what following the verdicts was worth beside simple rules. It is
// arithmetic over rows that somebody else has gathered.
package skill

import (
	"fmt"
	"math"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Judged is one verdict about one bed and one night, as it stood a number of
// days before, with what came of it.
type Judged struct {
	Bed        string
	Crop       string
	Night      farm.Day
	LeadDays   int
	Likelihood float64 // 0..1, as it was stated
	Acted      bool    // the verdict was to harvest before that night
	// AirLowForecast is the raw forecast of the night's minimum, which the simple
	// rules go by, and ListThreshold the crop's figure in growers' lists (screen air).
	AirLowForecast unit.Maybe[unit.Celsius]
	ListThreshold  unit.Maybe[unit.Celsius]
	// Lost is the share of the standing crop that was lost in that night, or would
	// have been had it still stood. Missing: not known yet, or not exposed. Such a
	// row is counted apart and never as a quiet night.
	Lost unit.Maybe[float64]
	Lead time.Duration // from the notice to the first hour of loss; read where Acted
}

// Options of a score.
type Options struct {
	LossShare float64      // a night counts as an event when more than this was lost
	Alarm     unit.Celsius // the fixed alarm: acts at or below this forecast low
	Bins      int          // of the reliability table
	Ratios    []float64    // cost–loss ratios of the value curve, between 0 and 1
}

// DefaultOptions are a loss of more than a fifth, an alarm at 28 °F (a killing
// freeze in the wording of US frost warnings, from memory), ten bins, and the
// ratios that the purposes of a bed use with some around them (own defaults).
func DefaultOptions() Options {
	return Options{
		LossShare: 0.2, Alarm: unit.FromFahrenheit(28), Bins: 10,
		Ratios: []float64{0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.7, 0.9},
	}
}

// Report is how the verdicts did.
type Report struct {
	LossShare float64      `json:"loss_share"`
	From      farm.Day     `json:"from,omitempty"` // first and last night that could be scored
	To        farm.Day     `json:"to,omitempty"`
	Cases     int          `json:"cases"`
	Unknown   int          `json:"unknown"` // rows whose outcome is missing
	Verdicts  Contingency  `json:"verdicts"`
	Lead      Lead         `json:"lead"`
	Brier     Brier        `json:"brier"`
	ByLead    []DayScore   `json:"by_lead_days"`
	Alarm     unit.Celsius `json:"fixed_alarm_c"`
	Value     Comparison   `json:"value"`
}

// DayScore is the score of the rows that were stated so many days ahead.
type DayScore struct {
	LeadDays int         `json:"lead_days"`
	Verdicts Contingency `json:"verdicts"`
	Brier    Brier       `json:"brier"`
}

// Score judges rows. It fails on a row that cannot have been stated: a
// likelihood or loss outside 0..1, a temperature that is not a number, a
// negative lead.
func Score(rows []Judged, opt Options) (Report, error) {
	if err := opt.check(); err != nil {
		return Report{}, err
	}
	var known []scored
	r := Report{LossShare: opt.LossShare, Alarm: opt.Alarm}
	for i, row := range rows {
		if err := row.check(); err != nil {
			return Report{}, fmt.Errorf("score row %d (bed %s, night %s): %w", i+1, row.Bed, row.Night, err)
		}
		lost, ok := row.Lost.Get()
		if !ok {
			r.Unknown++
			continue
		}
		known = append(known, scored{Judged: row, event: lost > opt.LossShare})
	}
	r.Cases = len(known)
	r.From, r.To = span(known)
	r.Verdicts = tally(known, func(s scored) bool { return s.Acted })
	r.Lead = leadOf(known)
	r.Brier = brierOf(known, opt.Bins)
	r.ByLead = byLead(known, opt.Bins)
	r.Value = compare(known, opt)
	return r, nil
}

// scored is a row with a known outcome.
type scored struct {
	Judged
	event bool
}

func (o Options) check() error {
	if !(o.LossShare >= 0 && o.LossShare < 1) {
		return fmt.Errorf("loss share %v: must be from 0 to less than 1", o.LossShare)
	}
	if o.Bins < 1 || !o.Alarm.Finite() {
		return fmt.Errorf("%d bins and an alarm at %v °C: need at least one bin and a temperature", o.Bins, o.Alarm)
	}
	for _, c := range o.Ratios {
		if !(c > 0 && c < 1) {
			return fmt.Errorf("cost–loss ratio %v: must lie between 0 and 1", c)
		}
	}
	return nil
}

func (j Judged) check() error {
	if !(j.Likelihood >= 0 && j.Likelihood <= 1) {
		return fmt.Errorf("likelihood %v: must be from 0 to 1", j.Likelihood)
	}
	if lost, ok := j.Lost.Get(); ok && !(lost >= 0 && lost <= 1) {
		return fmt.Errorf("share lost %v: must be from 0 to 1", lost)
	}
	for _, m := range []unit.Maybe[unit.Celsius]{j.AirLowForecast, j.ListThreshold} {
		if c, ok := m.Get(); ok && !c.Finite() {
			return fmt.Errorf("temperature %v is not a number", c)
		}
	}
	if j.LeadDays < 0 || j.Lead < 0 {
		return fmt.Errorf("lead of %d days, %v: must not be negative", j.LeadDays, j.Lead)
	}
	return nil
}

func span(rows []scored) (from, to farm.Day) {
	for i, r := range rows {
		if i == 0 || r.Night < from {
			from = r.Night
		}
		to = max(to, r.Night)
	}
	return from, to
}

// ratio is a/b, missing where b is zero.
func ratio(a, b float64) unit.Maybe[float64] {
	if b == 0 || math.IsNaN(a) {
		return unit.None[float64]()
	}
	return unit.Some(a / b)
}
