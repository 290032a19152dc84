package scene

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// classGroup is the beds that share ground, with their distinct plants.
type Group struct {
	Class  bed.Class
	Plants []bed.Plant
	Spread []unit.Kelvins
	Plots  []int // by their place among those that were grouped

	index map[string]int // plant key → place in plants
}

// grouped gathers plots by class, in a stable order.
func Groups(plots []Plot) []*Group {
	byKey := map[string]*Group{}
	var order []*Group
	for i := range plots {
		p := &plots[i]
		if p.Broken != "" {
			continue
		}
		key := p.Class.Key()
		g, ok := byKey[key]
		if !ok {
			g = &Group{Class: p.Class, index: map[string]int{}}
			byKey[key] = g
			order = append(order, g)
		}
		g.add(p)
		g.Plots = append(g.Plots, i)
	}
	return order
}

func (g *Group) add(p *Plot) {
	key := plotKey(p)
	if _, ok := g.index[key]; ok {
		return
	}
	g.index[key] = len(g.Plants)
	g.Plants = append(g.Plants, p.Plant)
	g.Spread = append(g.Spread, p.Spread)
}

func plotKey(p *Plot) string { return fmt.Sprintf("%s|%.3f", p.Plant.Key(), float64(p.Spread)) }

// assessed is one class after its trial.
type Trial struct {
	Group   *Group
	Book    bed.Book
	courses [][]bed.Course    // by plant, member
	others  map[string]*Trial // under other dressings, by class key
}

// assess advances a class to now and tries the coming days on it.
func (w *Reader) Try(s *Scene, g *Group, saved map[string]store.Checkpoint) (*Trial, *store.Checkpoint, error) {
	book, checkpoint, err := advance(s, g, saved)
	if err != nil {
		return nil, nil, err
	}
	a := &Trial{Group: g, Book: book}
	a.courses, err = bed.Try(&a.Book, &g.Class, g.Plants, g.Spread, s.Coming, s.Members)
	return a, checkpoint, err
}

// model is raised whenever the arithmetic of ground or plant changes: states
// that the old arithmetic reached are not resumed.
const model = 1

// checkpointKey names a class's saved state: its ground, and the history it began with.
func CheckpointKey(s *Scene, g *Group) string {
	sum := sha256.Sum256([]byte(fmt.Sprintf("%d %d %s", model, s.Start.Unix(), g.Class.Key())))
	return hex.EncodeToString(sum[:16])
}

// advance brings a class from its checkpoint, or from the start of the history,
// to now. The checkpoint that it gives back to be saved lies two days back,
// because observations still change what is nearer.
func advance(s *Scene, g *Group, saved map[string]store.Checkpoint) (bed.Book, *store.Checkpoint, error) {
	book, at := resume(s, g, saved)
	settled := s.Now.Add(-SettledAfter).Truncate(time.Hour)
	var checkpoint *store.Checkpoint
	if settled.After(at) {
		if err := book.Advance(&g.Class, g.Plants, s.Between(at, settled)); err != nil {
			return book, nil, err
		}
		body, err := book.Save()
		if err != nil {
			return book, nil, err
		}
		checkpoint, at = &store.Checkpoint{AsOf: settled, Body: body}, settled
	}
	return book, checkpoint, book.Advance(&g.Class, g.Plants, s.Between(at, s.Now.Truncate(time.Hour)))
}

func resume(s *Scene, g *Group, saved map[string]store.Checkpoint) (bed.Book, time.Time) {
	if c, ok := saved[CheckpointKey(s, g)]; ok && !c.AsOf.After(s.Now) {
		if book, err := bed.Open(c.Body); err == nil && book.Holds(g.Plants) {
			return book, c.AsOf
		}
	}
	return bed.NewBook(&g.Class, g.Plants, s.Start), s.Start
}

func (s *Scene) Between(from, to time.Time) []weather.Hour {
	i, j := int(from.Sub(s.Start)/time.Hour), int(to.Sub(s.Start)/time.Hour)
	i, j = max(0, min(i, len(s.Past))), max(0, min(j, len(s.Past)))
	if i >= j {
		return nil
	}
	return s.Past[i:j]
}

// question is one bed of an assessed class with its courses.
func (a *Trial) question(s *Scene, p *Plot, limits bed.Limits) verdict.Question {
	i := a.Group.index[plotKey(p)]
	plant := &a.Group.Plants[i]
	return verdict.Question{
		Now: s.Now, Zone: p.Zone, Plant: plant, Start: a.Book.Plants[plant.Key()], Purpose: p.Bed.Purpose,
		CostLoss: p.Bed.CostLoss(), Site: &a.Group.Class.Site, Hours: s.Coming, Courses: a.courses[i], Limits: limits,
	}
}

// verdictOf judges one bed of an assessed class.
func (a *Trial) Verdict(s *Scene, p *Plot, limits bed.Limits) farm.Verdict {
	v := verdict.Judge(a.question(s, p, limits))
	over := a.Group.Class.Over(s.Now)
	v.Cover, v.MulchCm = string(over.Cover), over.MulchCm
	s.sign(&v)
	return v
}

// sign adds what the verdict rests on.
func (s *Scene) sign(v *farm.Verdict) {
	v.Spread, v.HistoryHours, v.DefaultStart = s.Spread, s.Known, s.thin()
	v.Forecast = farm.Basis{ID: s.Doc.ID, Source: s.Doc.Source, Place: s.Doc.Body.Place, Issued: s.Doc.Issued, Credit: s.Doc.Body.Credit}
}

// cannotSee is the verdict of a bed that cannot be judged.
func (s *Scene) CannotSee(p *Plot, why farm.Blindness, missing []farm.Gap) farm.Verdict {
	v := farm.Verdict{State: farm.Unknown, Blind: why, AsOf: s.Now, Missing: missing, LossShare: bed.LossShare, CostLoss: p.Bed.CostLoss()}
	s.sign(&v)
	return v
}

// limitsOf are the limits of work on a farm.
func LimitsOf(f farm.Farm) bed.Limits {
	return bed.Limits{WindChill: f.WindChillLimit, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm}
}
