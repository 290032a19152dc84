package deadline

import (
	"math"
	"slices"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/microclimate"
	"winterstand/internal/stand"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Question is one bed with the courses its class was tried on.
type Question struct {
	Now      time.Time
	Zone     *time.Location
	Plant    *stand.Plant
	Start    stand.State // now
	Purpose  farm.Purpose
	CostLoss float64
	Site     *microclimate.Site
	Hours    []weather.Hour // coming ones at the bed, the first holds Now
	Courses  []stand.Course // by member
	Limits   stand.Limits
}

// closedFor is how long the ground must stay shut before digging counts as
// over; own default: a crust of a day or two thaws again.
const closedFor = 72

// Judge gives the verdict. Basis, history, cover and helps are the caller's to add.
func Judge(q Question) Verdict {
	t := q.tally()
	v := Verdict{
		AsOf: q.Now, Organ: q.Plant.Crop.Organ, LossShare: stand.LossShare, CostLoss: q.CostLoss,
		SoldLeft: q.Start.Sold.Quality, Members: len(q.Courses), Windows: t.windows(),
		Tolerance: unit.Some(q.Plant.Threshold(q.Start)), Nights: t.nights(),
		Snow: unit.Some(medianOf(q.Courses, 0, snowOf)), Frozen: unit.Some(medianOf(q.Courses, 0, frostOf)),
		Regrowth: t.regrowth(),
	}
	if q.forCrown() {
		v.Organ, v.Tolerance = crop.Crown, unit.Some(q.Plant.CrownThreshold(q.Start))
	}
	if q.Start.Lost != 0 && v.Organ != crop.Crown {
		return t.alreadyLost(v)
	}
	if hour, ok := t.reaches(t.ruin, q.CostLoss); ok {
		return t.ends(v, hour, t.cause(hour))
	}
	if hour, ok := t.groundCloses(); ok {
		return t.ends(v, hour, GroundFrozen)
	}
	return t.holds(v)
}

// tally is a question with what its members say, counted once.
type tally struct {
	Question
	ruin     []int // by member: first hour of loss; len(Hours): never
	shut     []int // by member: hour from which the ground cannot be dug to the end
	workable []bool
}

func (q Question) tally() *tally {
	t := &tally{Question: q, ruin: make([]int, len(q.Courses)), shut: make([]int, len(q.Courses))}
	counts := make([]int, len(q.Hours))
	for m := range q.Courses {
		t.ruin[m] = q.ruinHour(&q.Courses[m])
		work := stand.Workable(q.Plant, q.Site, q.Hours, &q.Courses[m], q.Limits)
		t.shut[m] = q.shutHour(&q.Courses[m])
		for h, ok := range work {
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
func (q *Question) lossAt(c *stand.Course, h int) float64 {
	switch {
	case q.forCrown():
		return 1 - float64(c.CrownLife[h])
	case q.Purpose == farm.Overwinter:
		return 1 - float64(c.Life[h])
	}
	return float64(c.Loss[h])
}

func (q *Question) ruinHour(c *stand.Course) int {
	for h := range q.Hours {
		if q.lossAt(c, h) > stand.LossShare {
			return h
		}
	}
	return len(q.Hours)
}

// shutHour is the first hour from which the ground stays too hard to dig.
func (q *Question) shutHour(c *stand.Course) int {
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
	for h := range t.Hours {
		if t.share(hours, h) >= p {
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

func (t *tally) cause(h int) Cause {
	if t.forCrown() {
		return CrownFreeze
	}
	if !t.Plant.Crop.Organ.AboveGround() {
		return ShoulderFreeze
	}
	if t.Plant.Crop.Chill.Known() && t.ruinedAboveFreezing(h) {
		return Chilling
	}
	return LeafFreeze
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
func (t *tally) ends(v Verdict, hour int, cause Cause) Verdict {
	danger := t.Hours[hour].At
	v.Cause, v.Danger = cause, unit.Some(danger)
	v.Night = farm.NightOf(danger, t.Zone)
	v = t.describe(v, v.Night)
	if c, ok := t.Plant.Crop.Chill.Get(); ok && cause == Chilling {
		v.ToleranceThen = unit.Some(c.Below)
	}
	hours := t.ruin
	if cause == GroundFrozen {
		hours = t.shut
	}
	v.Likelihood = unit.Some(t.share(hours, t.lastHourOf(v.Night)))
	v.State = TooLate
	for _, w := range v.Windows {
		if w.End.After(danger) {
			w.End = danger
		}
		if w.Start.Before(w.End) {
			v.State, v.LastWindow, v.HarvestBefore = HarvestBefore, unit.Some(w), unit.Some(w.End)
		}
		if !w.End.Before(danger) {
			break
		}
	}
	return v
}

func (t *tally) holds(v Verdict) Verdict {
	v.State = Holds
	v.Likelihood = unit.Some(t.share(t.ruin, len(t.Hours)-1))
	if night, ok := t.closestNight(v.Nights); ok {
		v.Night = ""
		v = t.describe(v, night)
	}
	return v
}

func (t *tally) alreadyLost(v Verdict) Verdict {
	at := time.Unix(t.Start.Lost, 0).UTC()
	v.State, v.AlreadyLost = TooLate, true
	v.Cause = LeafFreeze
	if !t.Plant.Crop.Organ.AboveGround() {
		v.Cause = ShoulderFreeze
	}
	v.Night = farm.NightOf(at, t.Zone)
	v.AirLow, v.AirLowAt = unit.Some(unit.Celsius(t.Start.Low)), unit.Some(at)
	v.Likelihood = unit.Some(1.0)
	return v
}

// closestNight is the coming night in which tissue comes nearest to what it stands.
func (t *tally) closestNight(nights []NightRisk) (farm.Day, bool) {
	best, night := math.Inf(1), farm.Day("")
	for _, n := range nights {
		if room := float64(n.TissueLow - n.Tolerance); room < best {
			best, night = room, n.Night
		}
	}
	return night, night != ""
}

// describe copies the figures of one night into the verdict.
func (t *tally) describe(v Verdict, night farm.Day) Verdict {
	for _, n := range v.Nights {
		if n.Night == night {
			v.AirLow, v.AirLowP10, v.AirLowAt = unit.Some(n.AirLow), unit.Some(n.AirP10), unit.Some(n.AirLowAt)
			v.TissueLow, v.ToleranceThen = unit.Some(n.TissueLow), unit.Some(n.Tolerance)
			if v.Night == "" && v.State == Holds {
				v.Night = night
			}
		}
	}
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
