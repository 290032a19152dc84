package round

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/announce"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// sightMemo is the kind of the memo of a field's sight, a notice.SightTold.
const sightMemo = "sight"

// sights decides for each field whether its people must hear that it cannot be
// seen, or that it can be seen again.
func (r *round) sights(ctx context.Context) error {
	done := map[int64]bool{}
	for i := range r.plots {
		p := &r.plots[i]
		if done[p.Field.ID] {
			continue
		}
		done[p.Field.ID] = true
		if err := r.sight(ctx, p); err != nil {
			return err
		}
	}
	return nil
}

// blindness is why a farm's fields in this cell cannot be seen, and since when.
func (r *round) blindness(owner farm.Farm) (farm.Blindness, time.Time) {
	why := r.s.Unseen(owner)
	if why == farm.TooOld {
		return why, r.s.Doc.Issued.Add(owner.BlindAfter)
	}
	return why, r.s.Now
}

func (r *round) sight(ctx context.Context, p *scene.Plot) error {
	var was notice.SightTold
	if err := store.Recall(ctx, r.w.Store.Reader, fmt.Sprintf("field:%d", p.Field.ID), sightMemo, &was); err != nil {
		return err
	}
	why, since := r.blindness(p.Owner)
	if told, kind := notice.NextSight(was, why, since, r.s.Now); kind != "" {
		r.queueSight(p, kind, why, told)
	}
	return nil
}

func (r *round) queueSight(p *scene.Plot, kind notice.Kind, why farm.Blindness, told notice.SightTold) {
	day := farm.DayOf(told.Since, p.Zone)
	facts := notice.Facts{Kind: kind, Farm: p.Owner.Name, Field: p.Field.Name, Zone: p.Zone.String(), Night: day, Alerts: r.alerts,
		Sight: &notice.Sight{Reason: why, Since: told.Since, Source: r.s.Doc.Source, Missing: r.s.Missing, Trouble: r.seen.trouble}}
	if r.s.Doc.ID != 0 {
		facts.Sight.Issued = unit.Some(r.s.Doc.Issued)
	}
	r.due = append(r.due, outgoing{sight: &told, Due: announce.Due{Owner: p.Owner, Zone: p.Zone, Facts: facts,
		Notice: store.Notice{FarmID: p.Owner.ID, Subject: fmt.Sprintf("field:%d", p.Field.ID), FieldID: p.Field.ID, Kind: kind,
			Night: day, Revision: told.Revision, IssuedAt: r.s.Now, ForecastID: r.s.Doc.ID}}})
}

// tellUnplaced tells a field's people that no source could be asked about it.
func (w *Runner) tellUnplaced(ctx context.Context, f store.Field, cause error) error {
	owner, err := w.Store.Farm(ctx, f.FarmID)
	if err != nil {
		return fmt.Errorf("farm %d: %w", f.FarmID, err)
	}
	r := &round{w: w, s: &scene.Scene{Now: w.Now(), Missing: []farm.Gap{{What: farm.GapForecast}}}, verdicts: map[int64]farm.Verdict{}}
	r.seen.trouble = troubles(cause)
	place, err := store.PlaceOf(ctx, w.Store, f)
	if err != nil {
		return err
	}
	p := &scene.Plot{Field: f, Owner: owner, Zone: place.Zone}
	if err := r.sight(ctx, p); err != nil {
		return err
	}
	return w.Store.Write(ctx, func(tx store.Writer) error {
		_, err := r.writeNotices(ctx, tx)
		return err
	})
}
