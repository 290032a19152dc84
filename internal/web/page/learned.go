package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// learned are the farm's own numbers: field biases and crop tolerances.
func (v *visit) learned(p *places) ([]learned, error) {
	var out []learned
	for _, id := range p.order {
		l, err := v.bias(p.fields[id].Name, id)
		if err != nil {
			return nil, err
		}
		out = append(out, l...)
	}
	taught, err := v.books().Memos(v.ctx(), scene.ToleranceMemo)
	if err != nil {
		return nil, err
	}
	prefix := fmt.Sprintf("farm:%d/", v.farm.ID)
	for owner, body := range taught {
		rest, ok := strings.CutPrefix(owner, prefix)
		if !ok {
			continue
		}
		var t scene.Taught
		if err := json.Unmarshal(body, &t); err != nil {
			return nil, fmt.Errorf("learned tolerance %s: %w", owner, err)
		}
		crop, variety, _ := strings.Cut(rest, "/")
		out = append(out, v.taught(v.cropName(crop, variety), owner, t))
	}
	slices.SortFunc(out, func(a, b learned) int { return strings.Compare(a.Kind+a.What, b.Kind+b.What) })
	return out, nil
}

func (v *visit) bias(field string, id int64) ([]learned, error) {
	owner := fmt.Sprintf("field:%d", id)
	body, err := v.books().Memo(v.ctx(), owner, scene.BiasMemo)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	var b microclimate.FieldBias
	if err == nil {
		err = json.Unmarshal(body, &b)
	}
	if err != nil {
		return nil, fmt.Errorf("learned bias of field %d: %w", id, err)
	}
	var parts []string
	for key, l := range map[string]microclimate.Learned{"calm": b.Calm, "other": b.Other} {
		if l.Nights > 0 {
			parts = append(parts, v.say("health.bias_"+key, "difference", v.warmer(unit.Kelvins(l.MeanK)), "n", fmt.Sprint(l.Nights)))
		}
	}
	if len(parts) == 0 {
		return nil, nil
	}
	slices.Sort(parts)
	return []learned{{Text: field + ": " + strings.Join(parts, " "), Kind: scene.BiasMemo, Owner: owner, What: field}}, nil
}

// warmer says a difference with its direction in words.
func (v *visit) warmer(k unit.Kelvins) string {
	if k < 0 {
		return v.say("health.colder", "difference", v.speaker.Units.Difference(-k))
	}
	return v.say("health.warmer", "difference", v.speaker.Units.Difference(k))
}

func (v *visit) taught(crop, owner string, t scene.Taught) learned {
	key, k := "health.stands_more", -t.Offset
	if t.Offset > 0 {
		key, k = "health.stands_less", t.Offset
	}
	text := v.say(key, "crop", crop, "difference", v.speaker.Units.Difference(k), "n", fmt.Sprint(t.Nights),
		"sigma", v.speaker.Units.Difference(t.Sigma))
	return learned{Text: text, Kind: scene.ToleranceMemo, Owner: owner, What: crop}
}

// forget drops a learned number and has the farm's beds judged again.
func forget(v *visit) error {
	kind, owner := v.field("kind"), v.field("owner")
	p, err := v.places()
	if err != nil {
		return err
	}
	if !v.owns(p, kind, owner) {
		return store.ErrNotFound
	}
	err = v.Commands.Store.Write(v.ctx(), func(w store.Writer) error {
		if err := w.DropMemo(v.ctx(), owner, kind); err != nil {
			return err
		}
		for id := range p.cells {
			if err := w.Enqueue(v.ctx(), store.Job{CellID: id}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return v.to("/health", "forgotten")
}

// owns tells whether a learned number is this farm's.
func (v *visit) owns(p *places, kind, owner string) bool {
	switch kind {
	case scene.ToleranceMemo:
		return strings.HasPrefix(owner, fmt.Sprintf("farm:%d/", v.farm.ID))
	case scene.BiasMemo:
		id, ok := strings.CutPrefix(owner, "field:")
		return ok && p.fields[number(id)].ID != 0
	}
	return false
}
