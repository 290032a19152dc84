package scene

import (
	"fmt"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
)

// coverFrom is how soon somebody can have a cover on; own default.
const coverFrom = 2 * time.Hour

// What is tried, the cheapest first. Own choice of what a grower has at hand.
var (
	coverTried = []string{"row_cover_light", "row_cover_heavy", "low_tunnel", "low_tunnel_fabric"}
	strawTried = []float64{10, 20} // cm
)

const mostHelps = 2

// helps tries protections on the same members: the cheapest that holds, else
// the two that leave the smallest chance.
func (w *Reader) Helps(s *Scene, a *Trial, p *Plot, v farm.Verdict) []farm.Help {
	if a == nil {
		return nil
	}
	var tried []farm.Help
	for _, h := range candidates(p, v) {
		got, err := w.whatIf(s, a, p, h.Cover, strawOrKeep(h), v.Night)
		if err != nil {
			w.Log.Error("protection cannot be tried", "bed", p.Bed.ID, "error", err)
			return nil
		}
		h.Likelihood, h.Holds = got.likelihood, got.holds
		if h.Holds {
			return []farm.Help{h}
		}
		tried = append(tried, h)
	}
	slices.SortStableFunc(tried, func(x, y farm.Help) int {
		return int(1000 * (x.Likelihood - y.Likelihood))
	})
	was, _ := v.Likelihood.Get()
	tried = slices.DeleteFunc(tried, func(h farm.Help) bool { return h.Likelihood > was-0.1 })
	return tried[:min(len(tried), mostHelps)]
}

func strawOrKeep(h farm.Help) float64 {
	if h.MulchCm > 0 {
		return h.MulchCm
	}
	return -1
}

// candidates leaves out what is no more than the bed already has, and covers
// that do not help roots.
func candidates(p *Plot, v farm.Verdict) []farm.Help {
	var out []farm.Help
	below := !p.Plant.Crop.Organ.AboveGround() || v.Cause == farm.CrownFreeze
	if below {
		for _, cm := range strawTried {
			if cm > v.MulchCm {
				out = append(out, farm.Help{MulchCm: cm})
			}
		}
		return out
	}
	have := microclimate.Cover(v.Cover).Shelter().GainAt(0)
	for _, c := range coverTried {
		if microclimate.Cover(c).Shelter().GainAt(0) > have {
			out = append(out, farm.Help{Cover: c})
		}
	}
	return out
}

type whatIf struct {
	verdict    farm.Verdict
	likelihood float64
	holds      bool
}

// whatIf judges the bed again under another cover or mulch (negative: as it is)
// on the same members.
func (w *Reader) whatIf(s *Scene, a *Trial, p *Plot, cover string, mulchCm float64, night farm.Day) (whatIf, error) {
	other, err := a.under(s, cover, mulchCm)
	if err != nil {
		return whatIf{}, err
	}
	v := other.Verdict(s, p, LimitsOf(p.Owner))
	over := other.Group.Class.Over(s.Now.Add(coverFrom))
	v.Cover, v.MulchCm = string(over.Cover), over.MulchCm
	return whatIf{verdict: v, holds: v.State == farm.Holds, likelihood: likelihoodBy(v, night)}, nil
}

// under is the class as it would be under another cover or mulch, tried once
// for all its plants: where one bed of a class is due, its neighbours often are.
func (a *Trial) under(s *Scene, cover string, mulchCm float64) (*Trial, error) {
	class := a.Group.Class.Under(s.Now.Add(coverFrom), cover, mulchCm)
	key := class.Key()
	if other, ok := a.others[key]; ok {
		return other, nil
	}
	g := *a.Group
	g.Class = class
	courses, err := bed.Try(&a.Book, &class, g.Plants, g.Spread, s.Coming, s.Members)
	if err != nil {
		return nil, fmt.Errorf("what if %s %v cm: %w", cover, mulchCm, err)
	}
	other := &Trial{Group: &g, Book: a.Book, courses: courses}
	if a.others == nil {
		a.others = map[string]*Trial{}
	}
	a.others[key] = other
	return other, nil
}

// likelihoodBy is the cumulative likelihood up to a night; of ground that closes,
// that it closes.
func likelihoodBy(v farm.Verdict, night farm.Day) float64 {
	for _, n := range v.Nights {
		if n.Night == night && v.Cause != farm.GroundFrozen {
			return n.Likelihood
		}
	}
	return v.Likelihood.Else(1)
}
