package keeping

import (
	"math"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Clock names what ends a lot.
type Clock string

// The clocks.
const (
	Ageing Clock = "ageing"
	Drying Clock = "drying"
	Frozen Clock = "frozen" // time in the freezer
	Thawed Clock = "thawed" // froze and thawed: to be used promptly
)

// UseBy is when a lot ends if its room stays as it is. Before P10 nine lots of
// ten are good, before P50 half, before P90 one of ten. The dates do not slide:
// for an old lot they may lie behind it.
type UseBy struct {
	P10, P50, P90 time.Time
	Clock         Clock
	Notes         []Note

	from  time.Time
	lag   float64 // days of curing still to come
	clock []running
}

// running is one clock: used of a lognormal limit with median 1, at a rate a day.
type running struct {
	used, perDay, sigma float64
}

// UseBy looks ahead from a state at an instant, in one climate.
func (k Keeper) UseBy(s State, now time.Time, c Climate) (UseBy, error) {
	if err := k.checkClimate(c); err != nil {
		return UseBy{}, err
	}
	s = k.settle(s, c)
	u := UseBy{from: now}
	p := k.pace(s, c)
	if p.curing {
		u.lag = k.Cure.Days - s.CuredHours/24
		s.CuredHours = k.Cure.Days * 24
		p = k.pace(s, c)
	}
	u.clock = k.running(s, p)
	u.Clock = k.ending(s, u)
	u.P10, u.P50, u.P90 = u.at(-z90), u.at(0), u.at(z90)
	u.Notes = k.notes(s, c, p, u.lag)
	return u, nil
}

// settle draws the conclusion that the room's present state forces: a lot that
// stays under its freezing point is as good as frozen.
func (k Keeper) settle(s State, c Climate) State {
	return k.freeze(s, k.general.FrozenAfter.Value, c)
}

func (k Keeper) running(s State, p pace) []running {
	if s.InFreezer {
		return []running{{s.FrozenAge, 1 / p.life.days, p.life.sigma}}
	}
	out := []running{{s.Age, 1 / p.life.days, p.life.sigma}}
	if p.water {
		limit := k.WaterLimit.Percent
		sigma := math.Log(k.general.WaterSpread.Value) / z90
		out = append(out, running{s.WaterLost / limit, p.percentDay / limit, sigma})
	}
	return out
}

func (k Keeper) ending(s State, u UseBy) Clock {
	switch {
	case s.InFreezer:
		return Frozen
	case s.FrozeThawed:
		return Thawed
	case len(u.clock) > 1 && u.clock[1].days(0) < u.clock[0].days(0):
		return Drying
	}
	return Ageing
}

// days until this clock runs out at a quantile z; never, where it stands still.
func (r running) days(z float64) float64 {
	left := math.Exp(z*r.sigma) - r.used
	if r.perDay <= 0 {
		return math.Inf(1)
	}
	return left / r.perDay
}

// farAhead bounds a date: no lot outlasts twenty years.
const farAhead = 20 * 365.0

// at is the instant the first clock runs out. Both clocks are read at the same
// quantile: a poor lot is poor in both.
func (u UseBy) at(z float64) time.Time {
	days := farAhead
	for _, r := range u.clock {
		days = math.Min(days, r.days(z))
	}
	return u.from.Add(time.Duration((u.lag + days) * 24 * float64(time.Hour)))
}

// Good is the probability that a lot which is good at the instant of UseBy is
// still good at t.
func (u UseBy) Good(t time.Time) float64 {
	now, then := u.share(0), u.share(t.Sub(u.from).Hours()/24)
	if now <= 0 {
		return 0
	}
	return math.Min(1, then/now)
}

func (u UseBy) share(days float64) float64 {
	days = math.Max(0, days-u.lag)
	p := 1.0
	for _, r := range u.clock {
		if used := r.used + r.perDay*days; used > 0 {
			p = math.Min(p, 1-normal(math.Log(used)/math.Max(r.sigma, 1e-6)))
		}
	}
	return p
}

// normal is the standard normal distribution function.
func normal(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

func (k Keeper) notes(s State, c Climate, p pace, lag float64) []Note {
	point, published := k.FreezingPoint()
	fresh := !s.InFreezer
	var out []Note
	add := func(on bool, n Note) {
		if on {
			n.Crop = k.Name
			out = append(out, n)
		}
	}
	add(k.FromFamily, Note{Code: FamilyFigures})
	add(fresh && !p.water, Note{Code: NoWaterFigure})
	add(p.water && p.assumed, Note{Code: HumidityAssumed})
	add(lag > 0, Note{Code: StillCuring})
	add(fresh && lag == 0 && !k.IsCured(s), Note{Code: NotCured, Warning: true})
	add(fresh && !published && c.Temperature < 1, Note{Code: NoFreezingPoint})
	add(s.FrozeThawed, Note{Code: UsePromptly, Warning: true})
	if cold, ok := k.tooCold(c); fresh && ok {
		add(true, cold)
	}
	add(c.Kind == farm.Freezer && c.Temperature >= point, Note{Code: FreezerWarm, Warning: true,
		Temp: unit.Some(c.Temperature), Limit: unit.Some(frozenStore)})
	return out
}

// tooCold says whether a room freezes or chills the crop.
func (k Keeper) tooCold(c Climate) (Note, bool) {
	n := Note{Crop: k.Name, Warning: true, Temp: unit.Some(c.Temperature)}
	if point, _ := k.FreezingPoint(); c.Temperature < point {
		n.Code, n.Limit = BelowFreezing, unit.Some(point)
		return n, true
	}
	if k.Chill != nil && float64(c.Temperature) < k.Chill.BelowC {
		n.Code, n.Limit = Chilled, unit.Some(unit.Celsius(k.Chill.BelowC))
		return n, true
	}
	return Note{}, false
}
