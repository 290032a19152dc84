package scene

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/store"
)

// knowledge is what several beds share.
type Knowledge struct {
	Scene    *Scene
	Farms    map[int64]farm.Farm
	Fields   map[int64]FieldKnowledge
	Findings map[int64][]farm.Finding   // by farm
	Learned  map[string]json.RawMessage // Taught, by ToleranceOwner

	Reader *Reader
}

func (w *Reader) knowledge(s *Scene) *Knowledge {
	return &Knowledge{Reader: w, Scene: s, Farms: map[int64]farm.Farm{}, Fields: map[int64]FieldKnowledge{}, Findings: map[int64][]farm.Finding{}}
}

type FieldKnowledge struct {
	Field store.Field
	Bias  microclimate.FieldBias
	Snow  []bed.SnowReading
}

func (k *Knowledge) load(ctx context.Context, fields []store.Field) error {
	var err error
	if k.Learned, err = k.Reader.Store.Memos(ctx, ToleranceMemo); err != nil {
		return err
	}
	for _, f := range fields {
		if _, ok := k.Farms[f.FarmID]; !ok {
			if k.Farms[f.FarmID], err = k.Reader.Store.Farm(ctx, f.FarmID); err != nil {
				return fmt.Errorf("farm %d: %w", f.FarmID, err)
			}
			if k.Findings[f.FarmID], err = k.Reader.Store.Findings(ctx, f.FarmID, 0); err != nil {
				return fmt.Errorf("findings of farm %d: %w", f.FarmID, err)
			}
		}
		if k.Fields[f.ID], err = k.field(ctx, f); err != nil {
			return err
		}
	}
	return nil
}

func (k *Knowledge) field(ctx context.Context, f store.Field) (FieldKnowledge, error) {
	out := FieldKnowledge{Field: f}
	readings, err := k.Reader.Store.Readings(ctx, f.FarmID, f.ID, k.Scene.Start, k.Scene.Now.Add(time.Hour))
	if err != nil {
		return out, fmt.Errorf("readings of field %d: %w", f.ID, err)
	}
	for _, r := range readings {
		if r.Quantity == farm.ReadSnowDepth {
			out.Snow = append(out.Snow, bed.SnowReading{At: r.At.Truncate(time.Hour).Unix(), Cm: r.Value})
		}
	}
	var since time.Time
	if err := store.Recall(ctx, k.Reader.Store, fmt.Sprintf("field:%d", f.ID), BiasSinceMemo, &since); err != nil {
		return out, err
	}
	out.Bias = biasFrom(readings, k.Scene.Past, f.In(k.Scene.Cell).Zone, since)
	return out, nil
}

// known is the knowledge of all fields of the scene's cell.
func (w *Reader) Known(ctx context.Context, s *Scene) (*Knowledge, error) {
	fields, err := w.Store.FieldsOfCell(ctx, s.Cell.ID)
	if err != nil {
		return nil, fmt.Errorf("fields of %s: %w", s.Cell.Key, err)
	}
	k := w.knowledge(s)
	return k, k.load(ctx, fields)
}
