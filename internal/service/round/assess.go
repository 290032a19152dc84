package round

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/hardiness"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// plot is one bed with all that its judgement needs.
type plot struct {
	bed    farm.Bed
	field  store.Field
	owner  farm.Farm
	zone   *time.Location
	class  bed.Class
	plant  bed.Plant
	spread unit.Kelvins
	broken string // why it cannot be judged; empty: it can
}

// plots loads the standing beds of a cell.
func (k *knowledge) plots(ctx context.Context) ([]plot, error) {
	beds, err := k.w.Store.BedsOfCell(ctx, k.s.cell.ID)
	if err != nil {
		return nil, fmt.Errorf("beds of %s: %w", k.s.cell.Key, err)
	}
	out := make([]plot, 0, len(beds))
	for _, b := range beds {
		out = append(out, k.plot(b))
	}
	return out, nil
}

// knowledge is what several beds share.
type knowledge struct {
	w        *Watcher
	s        *scene
	farms    map[int64]farm.Farm
	fields   map[int64]fieldKnowledge
	findings map[int64][]farm.Finding // by farm
	learned  map[string]json.RawMessage
}

func (w *Watcher) knowledge(s *scene) *knowledge {
	return &knowledge{w: w, s: s, farms: map[int64]farm.Farm{}, fields: map[int64]fieldKnowledge{}, findings: map[int64][]farm.Finding{}}
}

type fieldKnowledge struct {
	field store.Field
	bias  microclimate.FieldBias
	snow  []bed.SnowReading
}

func (k *knowledge) load(ctx context.Context, fields []store.Field) error {
	var err error
	if k.learned, err = k.w.Store.Memos(ctx, ToleranceMemo); err != nil {
		return err
	}
	for _, f := range fields {
		if _, ok := k.farms[f.FarmID]; !ok {
			if k.farms[f.FarmID], err = k.w.Store.Farm(ctx, f.FarmID); err != nil {
				return fmt.Errorf("farm %d: %w", f.FarmID, err)
			}
			if k.findings[f.FarmID], err = k.w.Store.Findings(ctx, f.FarmID, 0); err != nil {
				return fmt.Errorf("findings of farm %d: %w", f.FarmID, err)
			}
		}
		if k.fields[f.ID], err = k.field(ctx, f); err != nil {
			return err
		}
	}
	return nil
}

func (k *knowledge) field(ctx context.Context, f store.Field) (fieldKnowledge, error) {
	out := fieldKnowledge{field: f}
	readings, err := k.w.Store.Readings(ctx, f.FarmID, f.ID, k.s.start, k.s.now.Add(time.Hour))
	if err != nil {
		return out, fmt.Errorf("readings of field %d: %w", f.ID, err)
	}
	for _, r := range readings {
		if r.Quantity == farm.ReadSnowDepth {
			out.snow = append(out.snow, bed.SnowReading{At: r.At.Truncate(time.Hour).Unix(), Cm: r.Value})
		}
	}
	var since time.Time
	if err := k.w.recall(ctx, fmt.Sprintf("field:%d", f.ID), BiasSinceMemo, &since); err != nil {
		return out, err
	}
	out.bias = biasFrom(readings, k.s.past, zoneOf(f.Field, k.farms[f.FarmID], k.s.cell), since)
	return out, nil
}

// known is the knowledge of all fields of the scene's cell.
func (w *Watcher) known(ctx context.Context, s *scene) (*knowledge, error) {
	fields, err := w.Store.FieldsOfCell(ctx, s.cell.ID)
	if err != nil {
		return nil, fmt.Errorf("fields of %s: %w", s.cell.Key, err)
	}
	k := w.knowledge(s)
	return k, k.load(ctx, fields)
}

// plot is a bed as it is judged: with what the farm has taught and found.
func (k *knowledge) plot(b farm.Bed) plot {
	p := k.bare(b)
	if p.broken != "" {
		return p
	}
	p.plant.Offset = b.ToleranceSet.Else(0)
	k.teach(&p)
	k.guess(&p)
	k.found(&p)
	return p
}

// bare is a bed by the book: place, class and plant of the catalogue.
func (k *knowledge) bare(b farm.Bed) plot {
	fk := k.fields[b.FieldID]
	owner := k.farms[b.FarmID]
	p := plot{bed: b, field: fk.field, owner: owner, zone: zoneOf(fk.field.Field, owner, k.s.cell)}
	c, err := k.w.Catalogue.Find(b.Crop)
	if err != nil {
		p.broken = err.Error()
		return p
	}
	site := microclimate.Site{Latitude: k.s.cell.Latitude, Longitude: k.s.cell.Longitude, ElevationM: k.s.cell.Elevation.Else(0)}
	p.class = bed.ClassOf(site, fk.field.Field, b, fk.bias, fk.snow, p.zone).Growing(c)
	p.plant = bed.Plant{Crop: c}
	if day, ok := b.SownOn.Get(); ok {
		p.plant.Since = day.Start(p.zone).UTC()
	}
	p.spread = c.Spread
	return p
}

// found sets back the losses to what people saw. A bed that is registered
// stands: what the model thinks it lost before is void.
func (k *knowledge) found(p *plot) {
	p.plant.Found = []bed.Finding{{At: p.bed.CreatedAt.Truncate(time.Hour).Add(-time.Hour).Unix(), Left: 1}}
	for _, f := range k.findings[p.bed.FarmID] {
		if f.BedID == p.bed.ID {
			p.plant.Found = append(p.plant.Found, bed.Finding{At: bed.FindingAt(f.Night, p.zone), Left: 1 - f.LostFraction})
		}
	}
	slices.SortFunc(p.plant.Found, func(a, b bed.Finding) int { return int(a.At - b.At) })
}

// teach applies what findings on this farm have shown.
func (k *knowledge) teach(p *plot) {
	body, ok := k.learned[ToleranceOwner(p.bed.FarmID, p.plant.Crop.Name, p.bed.Variety)]
	if !ok {
		return
	}
	var t Taught
	if err := json.Unmarshal(body, &t); err != nil {
		k.w.Log.Error("learned tolerance cannot be read and is left out", "bed", p.bed.ID, "error", err)
		return
	}
	p.plant.Offset += t.Offset
	p.spread = t.Sigma
}

// guess widens the spread while there is too little history to start from.
func (k *knowledge) guess(p *plot) {
	if !k.s.thin() {
		return
	}
	_, start := hardiness.DefaultStart(p.plant.Crop.Sold, k.s.cell.Latitude, k.s.start.YearDay())
	left := 1 - float64(k.s.known)/enoughHistory
	p.spread = unit.Kelvins(math.Sqrt(float64(p.spread*p.spread) + float64(start*start)*left))
}

// classGroup is the beds that share ground, with their distinct plants.
type classGroup struct {
	class  bed.Class
	plants []bed.Plant
	spread []unit.Kelvins
	index  map[string]int // plant key → place in plants
	plots  []int
}

// grouped gathers plots by class, in a stable order.
func grouped(plots []plot) []*classGroup {
	byKey := map[string]*classGroup{}
	var order []*classGroup
	for i := range plots {
		p := &plots[i]
		if p.broken != "" {
			continue
		}
		key := p.class.Key()
		g, ok := byKey[key]
		if !ok {
			g = &classGroup{class: p.class, index: map[string]int{}}
			byKey[key] = g
			order = append(order, g)
		}
		g.add(p)
		g.plots = append(g.plots, i)
	}
	return order
}

func (g *classGroup) add(p *plot) {
	key := plotKey(p)
	if _, ok := g.index[key]; ok {
		return
	}
	g.index[key] = len(g.plants)
	g.plants = append(g.plants, p.plant)
	g.spread = append(g.spread, p.spread)
}

func plotKey(p *plot) string { return fmt.Sprintf("%s|%.3f", p.plant.Key(), float64(p.spread)) }

// assessed is one class after its trial.
type assessed struct {
	group   *classGroup
	book    bed.Book
	courses [][]bed.Course       // by plant, member
	others  map[string]*assessed // under other dressings, by class key
}

// assess advances a class to now and tries the coming days on it.
func (w *Watcher) assess(s *scene, g *classGroup, saved map[string]store.Checkpoint) (*assessed, *store.Checkpoint, error) {
	book, checkpoint, err := advance(s, g, saved)
	if err != nil {
		return nil, nil, err
	}
	a := &assessed{group: g, book: book}
	a.courses, err = bed.Try(&a.book, &g.class, g.plants, g.spread, s.coming, s.members)
	return a, checkpoint, err
}

// model is raised whenever the arithmetic of ground or plant changes: states
// that the old arithmetic reached are not resumed.
const model = 1

// checkpointKey names a class's saved state: its ground, and the history it began with.
func checkpointKey(s *scene, g *classGroup) string {
	sum := sha256.Sum256([]byte(fmt.Sprintf("%d %d %s", model, s.start.Unix(), g.class.Key())))
	return hex.EncodeToString(sum[:16])
}

// advance brings a class from its checkpoint, or from the start of the history,
// to now. The checkpoint that it gives back to be saved lies two days back,
// because observations still change what is nearer.
func advance(s *scene, g *classGroup, saved map[string]store.Checkpoint) (bed.Book, *store.Checkpoint, error) {
	book, at := resume(s, g, saved)
	settled := s.now.Add(-settledAfter).Truncate(time.Hour)
	var checkpoint *store.Checkpoint
	if settled.After(at) {
		if err := book.Advance(&g.class, g.plants, between(s, at, settled)); err != nil {
			return book, nil, err
		}
		body, err := book.Save()
		if err != nil {
			return book, nil, err
		}
		checkpoint, at = &store.Checkpoint{AsOf: settled, Body: body}, settled
	}
	return book, checkpoint, book.Advance(&g.class, g.plants, between(s, at, s.now.Truncate(time.Hour)))
}

func resume(s *scene, g *classGroup, saved map[string]store.Checkpoint) (bed.Book, time.Time) {
	if c, ok := saved[checkpointKey(s, g)]; ok && !c.AsOf.After(s.now) {
		if book, err := bed.Open(c.Body); err == nil && book.Holds(g.plants) {
			return book, c.AsOf
		}
	}
	return bed.NewBook(&g.class, g.plants, s.start), s.start
}

func between(s *scene, from, to time.Time) []weather.Hour {
	i, j := int(from.Sub(s.start)/time.Hour), int(to.Sub(s.start)/time.Hour)
	i, j = max(0, min(i, len(s.past))), max(0, min(j, len(s.past)))
	if i >= j {
		return nil
	}
	return s.past[i:j]
}

// question is one bed of an assessed class with its courses.
func (a *assessed) question(s *scene, p *plot, limits bed.Limits) verdict.Question {
	i := a.group.index[plotKey(p)]
	plant := &a.group.plants[i]
	return verdict.Question{
		Now: s.now, Zone: p.zone, Plant: plant, Start: a.book.Plants[plant.Key()], Purpose: p.bed.Purpose,
		CostLoss: p.bed.CostLoss(), Site: &a.group.class.Site, Hours: s.coming, Courses: a.courses[i], Limits: limits,
	}
}

// verdictOf judges one bed of an assessed class.
func (a *assessed) verdictOf(s *scene, p *plot, limits bed.Limits) farm.Verdict {
	v := verdict.Judge(a.question(s, p, limits))
	over := a.group.class.Over(s.now)
	v.Cover, v.MulchCm = string(over.Cover), over.MulchCm
	s.sign(&v)
	return v
}

// sign adds what the verdict rests on.
func (s *scene) sign(v *farm.Verdict) {
	v.Spread, v.HistoryHours, v.DefaultStart = s.spread, s.known, s.thin()
	v.Forecast = farm.Basis{ID: s.doc.ID, Source: s.doc.Source, Place: s.doc.Body.Place, Issued: s.doc.Issued, Credit: s.doc.Body.Credit}
}

// cannotSee is the verdict of a bed that cannot be judged.
func (s *scene) cannotSee(p *plot, why farm.Blindness, missing []string) farm.Verdict {
	v := farm.Verdict{State: farm.Unknown, Blind: why, AsOf: s.now, Missing: missing, LossShare: bed.LossShare, CostLoss: p.bed.CostLoss()}
	s.sign(&v)
	return v
}

// limitsOf are the limits of work on a farm.
func limitsOf(f farm.Farm) bed.Limits {
	return bed.Limits{WindChill: f.WindChillLimit, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm}
}
