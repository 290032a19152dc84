// Package learn hears what growers found after a frost and writes what that
// teaches of their crops.
package learn

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/teach"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
)

// pupil learns from what is known of a cell.
type pupil struct{ *scene.Knowledge }

// lesson is all that was found about one crop on one farm.
type lesson struct {
	owner string
	found []evidence
}

type evidence struct {
	plot    scene.Plot
	finding farm.Finding
}

// Findings hears the findings of a cell's farms and writes what they teach, where
// there are some that have not been heard.
func Findings(ctx context.Context, known *scene.Knowledge) error {
	k := pupil{known}
	lessons, err := k.lessons(ctx)
	if err != nil {
		return err
	}
	for _, l := range lessons {
		var was scene.Taught
		if old, ok := k.Learned[l.owner]; ok {
			if err := json.Unmarshal(old, &was); err != nil {
				k.Reader.Log.Error("learned tolerance cannot be read and is learned anew", "owner", l.owner, "error", err)
			}
		}
		if was.Findings == len(l.found) {
			continue
		}
		if err := k.write(ctx, l); err != nil {
			return err
		}
	}
	return nil
}

// write writes what a lesson teaches.
func (k pupil) write(ctx context.Context, l *lesson) error {
	var nights []teach.Night
	for _, h := range l.found {
		if n, ok := k.replay(&h.plot, h.finding); ok {
			nights = append(nights, n)
		}
	}
	got := teach.Learn(l.found[0].plot.Plant.Crop.Spread, nights)
	now := scene.Taught{Offset: got.Offset, Sigma: got.Sigma, Nights: got.Nights, Findings: len(l.found)}
	body, err := json.Marshal(now)
	if err != nil {
		return fmt.Errorf("lesson %s: %w", l.owner, err)
	}
	k.Learned[l.owner] = body
	return k.Reader.Store.Write(ctx, func(tx store.Writer) error {
		return tx.SetMemo(ctx, l.owner, scene.ToleranceMemo, body, k.Reader.Now())
	})
}

// lessons gathers the findings by what they are about, in order.
func (k pupil) lessons(ctx context.Context) ([]*lesson, error) {
	byOwner := map[string]*lesson{}
	var order []*lesson
	for _, farmID := range slices.Sorted(maps.Keys(k.Findings)) {
		for _, f := range k.Findings[farmID] {
			h, owner, err := k.subject(ctx, farmID, f)
			if err != nil {
				return nil, err
			}
			if owner == "" {
				continue
			}
			l, ok := byOwner[owner]
			if !ok {
				l = &lesson{owner: owner}
				byOwner[owner] = l
				order = append(order, l)
			}
			l.found = append(l.found, h)
		}
	}
	return order, nil
}

// subject says what a finding is about; an empty owner: nothing that counts here.
func (k pupil) subject(ctx context.Context, farmID int64, f farm.Finding) (evidence, string, error) {
	b, err := k.Reader.Store.Bed(ctx, farmID, f.BedID)
	if err != nil {
		return evidence{}, "", fmt.Errorf("bed %d of finding %d: %w", f.BedID, f.ID, err)
	}
	if k.Fields[b.FieldID].Field.ID == 0 {
		return evidence{}, "", nil // another cell's
	}
	p := k.Bare(b)
	if p.Broken != "" {
		return evidence{}, "", nil
	}
	owner := scene.ToleranceOwner(farmID, p.Plant.Crop.Name, b.Variety)
	var since time.Time
	err = store.Recall(ctx, k.Reader.Store, owner, scene.ToleranceSinceMemo, &since)
	if err != nil || f.CreatedAt.Before(since) {
		return evidence{}, "", err
	}
	return evidence{plot: p, finding: f}, owner, nil
}

// replay gives the loss of one night for every shift. The night must lie wholly
// in the history.
func (k pupil) replay(p *scene.Plot, f farm.Finding) (teach.Night, bool) {
	from, to := f.Night.Noon(p.Zone).UTC().Truncate(time.Hour), f.Night.Add(1).Noon(p.Zone).UTC().Truncate(time.Hour)
	if from.Before(k.Scene.Start.Add(24*time.Hour)) || to.After(k.Scene.Now) {
		return teach.Night{}, false
	}
	book := bed.NewBook(&p.Class, []bed.Plant{p.Plant}, k.Scene.Start)
	if err := book.Advance(&p.Class, []bed.Plant{p.Plant}, k.Scene.Between(k.Scene.Start, from)); err != nil {
		return teach.Night{}, false
	}
	before := book.Plants[p.Plant.Key()]
	n := teach.Night{Seen: f.LostFraction}
	for _, shift := range teach.Shifts() {
		plant := p.Plant
		plant.Offset = shift
		one := bed.Book{Ground: book.Ground, Plants: map[string]bed.State{plant.Key(): whole(before)}}
		if err := one.Advance(&p.Class, []bed.Plant{plant}, k.Scene.Between(from, to)); err != nil {
			return teach.Night{}, false
		}
		n.Expected = append(n.Expected, one.Plants[plant.Key()].Loss())
	}
	return n, true
}

// whole is a state as if nothing had been lost yet: a finding speaks of one night.
func whole(s bed.State) bed.State {
	s.Sold.Quality, s.Sold.Survival, s.Base, s.Lost = 1, 1, 1, 0
	s.Sold.EventDamage, s.Sold.EventKill = 0, 0
	return s
}
