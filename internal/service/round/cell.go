package round

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime"

	"golang.org/x/sync/errgroup"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/announce"
	"winterstand/internal/service/learn"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
)

// Cell does one round of one cell: look, observe, judge, tell. What it decides
// is written in one transaction with what is to be sent.
func (w *Runner) Cell(ctx context.Context, cellID int64) (Outcome, error) {
	done, err := w.turns.lock(ctx, fmt.Sprintf("cell %d", cellID))
	if err != nil {
		return Outcome{}, err
	}
	defer done()
	for try := 1; ; try++ {
		o, err := w.cell(ctx, cellID)
		if !errors.Is(err, errOutrun) || try == judgeTries {
			return o, err
		}
	}
}

func (w *Runner) cell(ctx context.Context, cellID int64) (Outcome, error) {
	cell, err := w.Store.Cell(ctx, cellID)
	if err != nil {
		return Outcome{}, fmt.Errorf("cell %d: %w", cellID, err)
	}
	if cell, err = w.replace(ctx, cell, false); err != nil {
		return Outcome{}, err
	}
	seen, err := w.look(ctx, cell)
	if err != nil {
		return Outcome{}, err
	}
	if err := w.observe(ctx, seen.cell); err != nil {
		return Outcome{}, err
	}
	s, err := w.Scene(ctx, seen.cell, seen.Doc)
	if err != nil {
		return Outcome{}, err
	}
	k, err := w.Known(ctx, s)
	if err != nil {
		return Outcome{}, err
	}
	if err := learn.Findings(ctx, k); err != nil {
		return Outcome{}, err
	}
	return w.judge(ctx, k, seen)
}

// round is what one judging gathers before it is written.
type round struct {
	w           *Runner
	s           *scene.Scene
	seen        sighting
	plots       []scene.Plot
	verdicts    map[int64]farm.Verdict  // by bed
	groups      map[int64]*scene.Trial  // by bed
	before      map[int64]store.Verdict // by bed, as the round found them
	events      map[int64]farm.Event    // by bed, as they are now
	reasons     map[notice.Reason]int   // how often each was the reason
	checkpoints map[string]store.Checkpoint
	due         []outgoing
	alerts      []notice.Alert
}

func (w *Runner) judge(ctx context.Context, k *scene.Knowledge, seen sighting) (Outcome, error) {
	s := k.Scene
	r := &round{w: w, s: s, seen: seen, verdicts: map[int64]farm.Verdict{}, groups: map[int64]*scene.Trial{},
		events: map[int64]farm.Event{}, reasons: map[notice.Reason]int{}, checkpoints: map[string]store.Checkpoint{}}
	var err error
	if r.plots, err = k.Plots(ctx); err != nil {
		return Outcome{}, err
	}
	if err := r.verdictsOf(ctx); err != nil {
		return Outcome{}, err
	}
	r.alerts = w.alerts(ctx, s.Cell)
	if err := r.sights(ctx); err != nil {
		return Outcome{}, err
	}
	if err := r.beds(ctx); err != nil {
		return Outcome{}, err
	}
	return r.write(ctx)
}

// verdictsOf judges every bed.
func (r *round) verdictsOf(ctx context.Context) error {
	if len(r.s.Missing) == 0 {
		saved, err := r.w.Store.Checkpoints(ctx, r.s.Cell.ID)
		if err != nil {
			return fmt.Errorf("checkpoints of %s: %w", r.s.Cell.Key, err)
		}
		if err := r.classes(ctx, scene.Groups(r.plots), saved); err != nil {
			return err
		}
	}
	for i := range r.plots {
		p := &r.plots[i]
		why := r.s.Unseen(p.Owner)
		if _, judged := r.verdicts[p.Bed.ID]; judged && why == "" {
			continue
		}
		missing := r.s.Missing
		if p.Broken != "" {
			missing = append(missing[:len(missing):len(missing)], p.Gap())
		}
		r.verdicts[p.Bed.ID] = r.s.CannotSee(p, cmp.Or(why, farm.Holes), missing)
		delete(r.groups, p.Bed.ID)
	}
	return nil
}

// classes assesses the classes, as many at once as there are processors, and
// takes the verdicts in order.
func (r *round) classes(ctx context.Context, groups []*scene.Group, saved map[string]store.Checkpoint) error {
	type outcome struct {
		a          *scene.Trial
		checkpoint *store.Checkpoint
		err        error
	}
	out := make([]outcome, len(groups))
	work, ctx := errgroup.WithContext(ctx)
	work.SetLimit(runtime.GOMAXPROCS(0))
	for i, g := range groups {
		work.Go(func() error {
			out[i].a, out[i].checkpoint, out[i].err = r.w.Try(r.s, g, saved)
			return ctx.Err()
		})
	}
	if err := work.Wait(); err != nil {
		return err
	}
	for i, g := range groups {
		r.class(g, out[i].a, out[i].checkpoint, out[i].err)
	}
	return nil
}

// class takes the verdicts of one class. One that cannot be stepped leaves its
// beds unknown, with the reason, and the others in peace.
func (r *round) class(g *scene.Group, a *scene.Trial, checkpoint *store.Checkpoint, err error) {
	if err != nil {
		r.w.Log.Error("class cannot be judged", "cell", r.s.Cell.Key, "error", err)
		for _, i := range g.Plots {
			r.plots[i].Broken = farm.GapModel
		}
		return
	}
	if checkpoint != nil {
		r.checkpoints[scene.CheckpointKey(r.s, g)] = *checkpoint
	}
	for _, i := range g.Plots {
		p := &r.plots[i]
		r.verdicts[p.Bed.ID] = a.Verdict(r.s, p, scene.LimitsOf(p.Owner))
		r.groups[p.Bed.ID] = a
	}
}

// beds decides what is due for every bed.
func (r *round) beds(ctx context.Context) error {
	var err error
	if r.before, err = r.w.Store.VerdictsOfCell(ctx, r.s.Cell.ID); err != nil {
		return fmt.Errorf("verdicts of %s: %w", r.s.Cell.Key, err)
	}
	for i := range r.plots {
		p := &r.plots[i]
		if err := r.bed(ctx, p, r.before[p.Bed.ID].Event); err != nil {
			return err
		}
	}
	return nil
}

func (r *round) bed(ctx context.Context, p *scene.Plot, was farm.Event) error {
	until, _ := p.Bed.QuietUntil.Get()
	m := notice.Moment{Event: was, Verdict: r.verdicts[p.Bed.ID], Now: r.s.Now, Muted: r.s.Now.Before(until),
		Rules: notice.Rules{Lead: p.Owner.NoticeLead, MovedStep: p.Owner.MovedStep, Zone: p.Zone}}
	d := notice.Next(m)
	if d.Reason == notice.LastWindow { // only here it matters whether somebody has answered
		var err error
		if m.Answered, err = r.answered(ctx, p, was); err != nil {
			return err
		}
		d = notice.Next(m)
	}
	r.w.Log.Debug("decided", "bed", p.Bed.ID, "reason", d.Reason, "phase", d.Event.Phase, "sends", d.Draft != nil)
	r.reasons[d.Reason]++
	r.events[p.Bed.ID] = d.Event
	if d.Draft != nil {
		r.queue(p, m.Verdict, *d.Draft)
	}
	return nil
}

// answered tells whether somebody has answered a notice of the open event.
func (r *round) answered(ctx context.Context, p *scene.Plot, was farm.Event) (bool, error) {
	since := r.s.Now.AddDate(0, 0, -14)
	notices, err := r.w.Store.Notices(ctx, p.Bed.FarmID, store.NoticeFilter{BedID: p.Bed.ID, From: since})
	if err != nil {
		return false, fmt.Errorf("notices of bed %d: %w", p.Bed.ID, err)
	}
	for _, n := range notices {
		if n.Answer != "" && n.Revision <= was.Revision && n.Night == was.Night {
			return true, nil
		}
	}
	return false, nil
}

func (r *round) queue(p *scene.Plot, v farm.Verdict, d notice.Draft) {
	if v.State == farm.HarvestBefore || v.State == farm.TooLate {
		if d.Kind != notice.Inspect && !v.AlreadyLost {
			v.Helps = r.w.Helps(r.s, r.groups[p.Bed.ID], p, v)
		}
	}
	facts := r.facts(p, d.Kind, d.Night)
	facts.Verdict, facts.Before, facts.Why, facts.Passed = &v, d.Before, d.Why, d.Passed()
	r.due = append(r.due, outgoing{Due: announce.Due{Owner: p.Owner, Zone: p.Zone, Facts: facts, Windows: v.Windows, Notice: store.Notice{
		FarmID: p.Owner.ID, Subject: fmt.Sprintf("bed:%d", p.Bed.ID), FieldID: p.Field.ID, BedID: p.Bed.ID, Kind: d.Kind,
		Night: d.Night, Revision: d.Revision, IssuedAt: r.s.Now, HarvestBefore: notice.Deadline(facts), Likelihood: v.Likelihood, ForecastID: r.s.Doc.ID,
	}}})
}

func (r *round) facts(p *scene.Plot, kind string, night farm.Day) notice.Facts {
	return notice.Facts{
		Kind: kind, Farm: p.Owner.Name, Field: p.Field.Name, Bed: p.Bed.Name, BedID: p.Bed.ID, Crop: p.Bed.Crop,
		Titles: p.Plant.Crop.Titles, Cautions: p.Plant.Crop.Cautions, Variety: p.Bed.Variety, Zone: p.Zone.String(), Night: night, Purpose: p.Bed.Purpose,
		StandingKg: p.Bed.StandingKg, LeadHours: p.Owner.NoticeLead.Hours(), MovedStepHours: p.Owner.MovedStep.Hours(), Alerts: r.alerts,
	}
}

// write records everything in one transaction and gives what was told.
func (r *round) write(ctx context.Context) (Outcome, error) {
	o := Outcome{Cells: 1, Beds: len(r.plots), Trouble: r.seen.errors, Reasons: r.reasons}
	err := r.w.Store.Write(ctx, func(tx store.Writer) error {
		o.Notices = nil
		if err := r.hold(ctx, tx); err != nil {
			return err
		}
		told, err := r.writeNotices(ctx, tx)
		if err != nil {
			return err
		}
		o.Notices = told
		if err := r.addressNewcomers(ctx, tx); err != nil {
			return err
		}
		if err := tx.SaveCheckpoints(ctx, r.s.Cell.ID, r.checkpoints); err != nil {
			return err
		}
		if err := tx.SaveVerdicts(ctx, r.kept()); err != nil {
			return err
		}
		return tx.AddJudgements(ctx, r.judgements())
	})
	if err != nil {
		return o, fmt.Errorf("write round of %s: %w", r.s.Cell.Key, err)
	}
	fields := map[int64]bool{}
	for i := range r.plots {
		fields[r.plots[i].Field.ID] = true
	}
	o.Fields = len(fields)
	if len(r.s.Missing) > 0 {
		o.Blind = len(fields)
	}
	return o, nil
}

func (r *round) kept() []store.Verdict {
	var out []store.Verdict
	for i := range r.plots {
		id := r.plots[i].Bed.ID
		out = append(out, store.Verdict{BedID: id, Kept: farm.Keep(r.verdicts[id]), Event: r.events[id]})
	}
	return out
}

// judgedLeads is how many coming nights are kept for scoring.
const judgedLeads = 7

// judgements keep what was thought of each coming night, for scoring.
func (r *round) judgements() []store.Judgement {
	var out []store.Judgement
	for i := range r.plots {
		p := &r.plots[i]
		v, event := r.verdicts[p.Bed.ID], r.events[p.Bed.ID]
		for lead, n := range v.Nights {
			if lead >= judgedLeads {
				break
			}
			out = append(out, store.Judgement{
				FarmID: p.Bed.FarmID, BedID: p.Bed.ID, Crop: p.Bed.Crop, Night: n.Night, LeadDays: lead + 1, IssuedAt: r.s.Now,
				Likelihood: n.Likelihood, CostLoss: v.CostLoss, Acted: event.Phase.Open() && event.Night <= n.Night, AirMinC: float64(n.AirLow),
			})
		}
	}
	return out
}
