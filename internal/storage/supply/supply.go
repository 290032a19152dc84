// Package supply says week by week what is wanted, what stands, what is stored
// and what runs out when, up to the end of the spring gap.
//
// Beds die and lots spoil by chance, so it plays the weeks many times: each time
// every bed and lot gets an end drawn from its own distribution, and the wants
// take first from what is expected to end first, without knowing the draw. The
// draws are stratified and seeded: the same input gives the same outlook. In
// every play a kilogram is in one place only: standing, stored, used or gone.
package supply

import (
	"fmt"
	"math"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Chance is the probability that a bed still stands on a day.
type Chance struct {
	Day farm.Day `json:"day"`
	P   float64  `json:"p"`
}

// Regrowth is what an overwintered bed gives again: new growth, beside what
// stood before.
type Regrowth struct {
	From       farm.Day // first cut
	Until      farm.Day // it bolts, or the bed is needed
	Kg         float64
	Likelihood float64 // that the crown is alive, 0..1
}

// Standing is one bed.
type Standing struct {
	BedID    int64
	Crop     string
	Kg       unit.Maybe[float64] // missing: it is named and not counted
	Alive    []Chance            // by rising day, never rising; straight between, 1 before the first
	NotAfter farm.Day            // nothing more to take from that day on; empty: no such day
	Regrow   unit.Maybe[Regrowth]
}

// Lot is one stored harvest: nine of ten such lots are good at P10, half at
// P50, one of ten at P90.
type Lot struct {
	LotID         int64
	Crop          string
	Kg            float64
	P10, P50, P90 time.Time
}

// Want is what one outlet wants of a crop each week, From and To inclusive; an
// empty From is from the first day on, an empty To without end.
// Outlets earlier in the list are served first.
type Want struct {
	For       string // market, box scheme, household
	Crop      string
	KgPerWeek float64
	From, To  farm.Day
}

// Input is everything an outlook is made of.
type Input struct {
	Now      time.Time
	Zone     *time.Location
	Until    farm.Day // last day; empty: the end of the spring gap that comes next
	Gap      Gap      // zero: that of the northern hemisphere
	Standing []Standing
	Lots     []Lot
	Wants    []Want
	Seed     uint64
}

// Own defaults.
const (
	plays = 256 // a likelihood is then good to about 3 %
	// kinship is how far the beds of a farm share the winter: the correlation
	// of their fates in the Gaussian copula the ends are drawn from.
	kinship = 0.7
	// short of less than this share of a week's want is not short.
	short = 0.005
)

// Share is how one outlet fares in a week.
type Share struct {
	For      string  `json:"for"`
	WantedKg float64 `json:"wanted_kg"`
	ShortKg  float64 `json:"short_kg"`
}

// Row is one crop in one week. Weights are expected values over all plays.
type Row struct {
	Crop         string              `json:"crop"`
	Week         farm.Day            `json:"week_start"`
	WantedKg     float64             `json:"wanted_kg"`
	FromStanding float64             `json:"from_standing_kg"`
	FromRegrowth float64             `json:"from_regrowth_kg"`
	FromStored   float64             `json:"from_stored_kg"`
	ShortKg      float64             `json:"short_kg"`
	Enough       unit.Maybe[float64] `json:"enough_likelihood,omitzero"` // missing: none wanted
	StandingKg   float64             `json:"standing_kg"`                // at the start of the week, regrowth with it
	StoredKg     float64             `json:"stored_kg"`
	SpringGap    bool                `json:"spring_gap"`
	Outlets      []Share             `json:"outlets,omitempty"`
}

// RunsOut is when a wanted crop first falls short.
type RunsOut struct {
	Crop       string               `json:"crop"`
	Likelihood float64              `json:"likelihood"` // that it does at all before the end
	Week       unit.Maybe[farm.Day] `json:"week_start,omitzero"`
	Early      unit.Maybe[farm.Day] `json:"early_week_start,omitzero"` // one in ten by then
	Late       unit.Maybe[farm.Day] `json:"late_week_start,omitzero"`  // nine in ten by then
}

// Total follows the kilograms of a crop through all weeks, as expected values:
// Start + Regrown = Used + LostStanding + Spoiled + Left.
type Total struct {
	Crop         string  `json:"crop"`
	Start        float64 `json:"start_kg"`
	Regrown      float64 `json:"regrown_kg"`
	Used         float64 `json:"used_kg"`
	LostStanding float64 `json:"lost_standing_kg"`
	Spoiled      float64 `json:"spoiled_kg"`
	Left         float64 `json:"left_kg"`
}

// Result is the outlook.
type Result struct {
	Weeks   []Week    `json:"weeks"`
	Rows    []Row     `json:"rows"` // by crop, then week
	RunsOut []RunsOut `json:"runs_out"`
	Gap     GapReport `json:"spring_gap"`
	Totals  []Total   `json:"totals"`
	Unknown []int64   `json:"beds_of_unknown_weight,omitempty"`
}

func (in Input) check() error {
	if in.Zone == nil || in.Now.IsZero() {
		return fmt.Errorf("supply: the time and its zone must be given")
	}
	for _, s := range in.Standing {
		if err := s.check(); err != nil {
			return fmt.Errorf("bed %d: %w", s.BedID, err)
		}
	}
	for _, l := range in.Lots {
		if !within(l.Kg) || l.P50.Before(l.P10) || l.P90.Before(l.P50) {
			return fmt.Errorf("lot %d: must have 0 kg or more and use-by dates in order", l.LotID)
		}
	}
	for _, w := range in.Wants {
		if !within(w.KgPerWeek) || w.To != "" && w.To < w.From {
			return fmt.Errorf("wanted %s for %s: must be 0 kg or more a week, and end after it begins", w.Crop, w.For)
		}
	}
	return nil
}

func (s Standing) check() error {
	if !within(s.Kg.Else(0)) {
		return fmt.Errorf("standing kg must be 0 or more, not %g", s.Kg.Else(0))
	}
	last := Chance{P: 1}
	for _, c := range s.Alive {
		if !(c.P >= 0 && c.P <= last.P) || c.Day <= last.Day {
			return fmt.Errorf("chance of standing on %s: must be between 0 and 1, never rise, and follow by day", c.Day)
		}
		last = c
	}
	if r, ok := s.Regrow.Get(); ok && (!within(r.Kg) || !(r.Likelihood >= 0 && r.Likelihood <= 1) || r.Until < r.From) {
		return fmt.Errorf("regrowth: must be 0 kg or more with a likelihood between 0 and 1, and end after it begins")
	}
	return nil
}

func within(v float64) bool { return v >= 0 && !math.IsInf(v, 1) }
