package verdict

import (
	"cmp"
	"slices"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Question is one bed with the courses its class was tried on.
type Question struct {
	Now      time.Time
	Zone     *time.Location
	Plant    *bed.Plant
	Start    bed.State // now
	Purpose  farm.Purpose
	CostLoss float64
	Site     *microclimate.Site
	Hours    []weather.Hour // coming ones at the bed, the first holds Now
	Courses  []bed.Course   // by member
	Limits   bed.Limits
}

// closedFor is how long the ground must stay shut before digging counts as
// over; own default: a crust of a day or two thaws again.
const closedFor = 72

// Judge gives the verdict, unknown where there is no course to judge by. Basis, history, cover and helps are the caller's to add.
func Judge(q Question) farm.Verdict {
	if len(q.Hours) == 0 || len(q.Courses) == 0 {
		return farm.Verdict{State: farm.Unknown, Blind: farm.Holes, AsOf: q.Now, Organ: q.Plant.Crop.Organ, LossShare: bed.LossShare, CostLoss: q.CostLoss, Missing: []farm.Gap{{What: farm.GapEnd}}}
	}
	t := q.tally()
	v := farm.Verdict{
		AsOf: q.Now, Organ: q.Plant.Crop.Organ, LossShare: bed.LossShare, CostLoss: q.CostLoss,
		SoldLeft: q.Start.Sold.Quality, Members: len(q.Courses), Windows: t.windows(),
		Tolerance: unit.Some(q.Plant.Threshold(q.Start)), Nights: t.nights(),
		Snow: unit.Some(float64(t.median(0, snowOf))), Frozen: unit.Some(float64(t.median(0, frostOf))),
		Regrowth: t.regrowth(),
	}
	if q.forCrown() {
		v.Organ, v.Tolerance = crop.Crown, unit.Some(q.Plant.CrownThreshold(q.Start))
	}
	if q.Start.NothingLeft() && !q.forCrown() {
		return t.nothingLeft(v)
	}
	if lost := q.passed(); lost.At != 0 {
		return t.alreadyLost(v, lost)
	}
	if hour, ok := t.reaches(t.ruin, q.CostLoss); ok {
		return t.ends(v, hour, t.cause(t.ruinedAboveFreezing(hour)))
	}
	if hour, ok := t.groundCloses(); ok {
		return t.ends(v, hour, farm.GroundFrozen)
	}
	return t.holds(v)
}

// passed is when what the bed is kept for was lost by the model; its zero value: not.
func (q *Question) passed() bed.Passing {
	switch {
	case q.forCrown():
		return q.Start.CrownDied
	case q.Purpose == farm.Overwinter:
		return q.Start.Died
	}
	return bed.Passing{At: q.Start.Lost, Low: q.Start.Low}
}

// tally is a question with what its members say, counted once.
type tally struct {
	Question
	stretches []stretch // the nights that the hours belong to
	ruin      []int     // by member: first hour of loss; len(Hours): never
	shut      []int     // by member: hour from which the ground cannot be dug to the end
	workable  []bool
	column    []float32 // scratch: one hour of all members
}

func (q Question) tally() *tally {
	t := &tally{Question: q, stretches: stretchesOf(q.Hours, q.Zone),
		ruin: make([]int, len(q.Courses)), shut: make([]int, len(q.Courses)), column: make([]float32, len(q.Courses))}
	counts := make([]int, len(q.Hours))
	light := bed.Sunlit(q.Site, q.Hours)
	for m := range q.Courses {
		t.ruin[m] = q.ruinHour(&q.Courses[m])
		t.shut[m] = q.shutHour(&q.Courses[m])
		for h, ok := range bed.WorkableIn(light, q.Plant, q.Hours, &q.Courses[m], q.Limits) {
			if ok {
				counts[h]++
			}
		}
	}
	t.workable = make([]bool, len(q.Hours))
	for h, n := range counts {
		t.workable[h] = 2*n >= len(q.Courses) && !q.Hours[h].At.Before(q.Now.Truncate(time.Hour))
	}
	return t
}

// lossAt is the cumulative loss that matters for the bed's purpose.
func (q *Question) lossAt(c *bed.Course, h int) float64 {
	switch {
	case q.forCrown():
		return 1 - float64(c.CrownLife[h])
	case q.Purpose == farm.Overwinter:
		return 1 - float64(c.Life[h])
	}
	return float64(c.Loss[h])
}

func (q *Question) ruinHour(c *bed.Course) int {
	for h := range q.Hours {
		if q.lossAt(c, h) > bed.LossShare {
			return h
		}
	}
	return len(q.Hours)
}

// shutHour is the first hour from which the ground stays too hard to dig.
func (q *Question) shutHour(c *bed.Course) int {
	if q.Plant.Crop.Organ.AboveGround() {
		return len(q.Hours)
	}
	h := len(q.Hours)
	for h > 0 && float64(c.Frost[h-1]) >= q.Limits.CrustCm {
		h--
	}
	return h
}

// reaches is the first hour at which the share of members that have come to
// their hour reaches p.
func (t *tally) reaches(hours []int, p float64) (int, bool) {
	sorted := slices.Sorted(slices.Values(hours))
	for n, h := range sorted {
		if h < len(t.Hours) && float64(n+1)/float64(len(sorted)) >= p {
			return h, true
		}
	}
	return 0, false
}

// share of members whose hour is at or before h.
func (t *tally) share(hours []int, h int) float64 {
	n := 0
	for _, at := range hours {
		if at <= h {
			n++
		}
	}
	return float64(n) / float64(len(hours))
}

// groundCloses: digging ends for the rest of what can be seen, at least three
// days, and the bed is not meant to stay in the ground.
func (t *tally) groundCloses() (int, bool) {
	if t.Purpose == farm.Overwinter || t.Plant.Crop.Organ.AboveGround() {
		return 0, false
	}
	h, ok := t.reaches(t.shut, max(t.CostLoss, 0.5))
	return h, ok && len(t.Hours)-h >= closedFor
}

// cause of a loss; warm: without frost.
func (t *tally) cause(warm bool) farm.Cause {
	switch {
	case t.forCrown():
		return farm.CrownFreeze
	case !t.Plant.Crop.Organ.AboveGround():
		return farm.ShoulderFreeze
	case t.Plant.Crop.Chill.Known() && warm:
		return farm.Chilling
	}
	return farm.LeafFreeze
}

// ruinedAboveFreezing: most members that are lost by an hour have not frozen.
func (t *tally) ruinedAboveFreezing(h int) bool {
	lost, frozen := 0, 0
	for m, at := range t.ruin {
		if at > h {
			continue
		}
		lost++
		if slices.Min(t.Courses[m].Sold[:at+1]) < 0 {
			frozen++
		}
	}
	return 2*frozen < lost
}

// ends fills in the night that ends the bed and the deadline before it.
func (t *tally) ends(v farm.Verdict, hour int, cause farm.Cause) farm.Verdict {
	danger := t.Hours[hour].At
	s := t.stretchOf(hour)
	v.Cause, v.Danger = cause, unit.Some(danger)
	v = describe(v, t.risk(s))
	if c, ok := t.Plant.Crop.Chill.Get(); ok && cause == farm.Chilling {
		v.ToleranceThen = unit.Some(c.Below)
	}
	hours := t.ruin
	if cause == farm.GroundFrozen {
		hours = t.shut
	}
	v.Likelihood = unit.Some(t.share(hours, s.past-1))
	v.State = farm.TooLate
	for _, w := range v.Windows {
		if !w.Start.Before(danger) {
			break
		}
		if w.End.After(danger) {
			w.End = danger
		}
		v.State, v.LastWindow, v.HarvestBefore = farm.HarvestBefore, unit.Some(w), unit.Some(w.End)
	}
	return v
}

func (t *tally) holds(v farm.Verdict) farm.Verdict {
	v.State = farm.Holds
	v.Likelihood = unit.Some(t.share(t.ruin, len(t.Hours)-1))
	if n, ok := closest(v.Nights); ok {
		v = describe(v, n)
	}
	return v
}

func (t *tally) alreadyLost(v farm.Verdict, lost bed.Passing) farm.Verdict {
	at := time.Unix(lost.At, 0).UTC()
	v.State, v.AlreadyLost = farm.TooLate, true
	v.Cause = t.cause(lost.Low > 0)
	v.Night = farm.NightOf(at, t.Zone)
	v.AirLow, v.AirLowAt = unit.Some(unit.Celsius(lost.Low)), unit.Some(at)
	v.Likelihood = unit.Some(1.0)
	return v
}

// nothingLeft: the grower looked, and there is nothing to decide any more.
func (t *tally) nothingLeft(v farm.Verdict) farm.Verdict {
	v.State, v.AlreadyLost, v.NothingLeft = farm.TooLate, true, true
	v.Night = farm.NightOf(time.Unix(t.Start.Lost, 0), t.Zone)
	v.Likelihood = unit.Some(1.0)
	return v
}

// closest is the coming night in which tissue comes nearest to what it stands.
func closest(nights []farm.NightRisk) (farm.NightRisk, bool) {
	if len(nights) == 0 {
		return farm.NightRisk{}, false
	}
	return slices.MinFunc(nights, func(a, b farm.NightRisk) int {
		return cmp.Compare(a.TissueLow-a.Tolerance, b.TissueLow-b.Tolerance)
	}), true
}

// describe copies the figures of one night into the verdict.
func describe(v farm.Verdict, n farm.NightRisk) farm.Verdict {
	v.Night = n.Night
	v.AirLow, v.AirLowP10, v.AirLowAt = unit.Some(n.AirLow), unit.Some(n.AirP10), unit.Some(n.AirLowAt)
	v.TissueLow, v.TissueLowP10, v.ToleranceThen = unit.Some(n.TissueLow), unit.Some(n.TissueP10), unit.Some(n.Tolerance)
	return v
}

// regrowth is the share of members in which most of the crown lives on.
func (t *tally) regrowth() unit.Maybe[float64] {
	if !t.Plant.Crop.Regrow.Known() || len(t.Hours) == 0 {
		return unit.None[float64]()
	}
	n := 0
	for i := range t.Courses {
		if t.Courses[i].CrownLife[len(t.Hours)-1] >= 0.5 {
			n++
		}
	}
	return unit.Some(float64(n) / float64(len(t.Courses)))
}
