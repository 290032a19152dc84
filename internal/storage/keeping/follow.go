package keeping

import (
	"fmt"
	"time"

	"winterstand/internal/unit"
)

// Spell is a climate that holds from an instant until the next spell begins.
type Spell struct {
	From time.Time
	Climate
}

// Follow takes a lot from its harvest to an instant through the spells its room
// or rooms have had, in order of time. The first spell counts back to the
// harvest. A lot known to be cured at some time has ended its curing there.
func (k Keeper) Follow(harvested time.Time, cured unit.Maybe[time.Time], spells []Spell, until time.Time) (State, error) {
	if len(spells) == 0 {
		return State{}, fmt.Errorf("keeping %s: nothing is known of its room", k.Name)
	}
	var s State
	at := harvested
	for i, spell := range spells {
		end := until
		if i+1 < len(spells) && spells[i+1].From.Before(until) {
			end = spells[i+1].From
		}
		if !end.After(at) {
			continue
		}
		var err error
		if s, err = k.through(s, at, end, cured, spell.Climate); err != nil {
			return s, err
		}
		at = end
	}
	return k.cureBy(s, cured, until), nil
}

// through stops at the day of curing, where there is one inside the spell.
func (k Keeper) through(s State, from, to time.Time, cured unit.Maybe[time.Time], c Climate) (State, error) {
	if day, ok := cured.Get(); ok && k.Cure != nil && day.After(from) {
		end := day
		if to.Before(day) {
			end = to
		}
		// Until the day it was called cured, a lot is taken to have been curing
		// wherever the book says it lay: that is where the grower's word counts.
		s.CuredHours += end.Sub(from).Hours()
		from = end
	}
	s = k.cureBy(s, cured, from)
	return k.After(s, max(0, to.Sub(from).Hours()), c)
}

func (k Keeper) cureBy(s State, cured unit.Maybe[time.Time], at time.Time) State {
	if day, ok := cured.Get(); ok && !day.After(at) && !k.IsCured(s) {
		s.CuredHours = k.Cure.Days * 24
	}
	return s
}
