package app

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/picture"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// artist draws the picture that goes with a notice, on the forecast that it was
// decided on.
type artist struct {
	scenes *scene.Reader
	recent *outlooks
}

// outlooks keeps the last few, because a notice is drawn once for each reader.
type outlooks struct {
	mu   sync.Mutex
	ids  []int64 // of notices, oldest first
	kept map[int64]scene.Outlook
}

const outlooksKept = 32

func (o *outlooks) get(id int64, make func() (scene.Outlook, error)) (scene.Outlook, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if got, ok := o.kept[id]; ok {
		return got, nil
	}
	got, err := make()
	if err != nil {
		return got, err
	}
	if o.kept == nil {
		o.kept = map[int64]scene.Outlook{}
	}
	o.kept[id], o.ids = got, append(o.ids, id)
	if len(o.ids) > outlooksKept {
		delete(o.kept, o.ids[0])
		o.ids = o.ids[1:]
	}
	return got, nil
}

// pngScale doubles the picture's size for sharp screens.
const pngScale = 2

func (a artist) Picture(ctx context.Context, n store.Notice, s phrase.Speaker) ([]byte, error) {
	if n.ForecastID == 0 {
		return nil, nil
	}
	var f notice.Facts
	if err := json.Unmarshal(n.Facts, &f); err != nil || f.Verdict == nil {
		return nil, err
	}
	o, err := a.recent.get(n.ID, func() (scene.Outlook, error) {
		return a.scenes.OutlookOn(ctx, n.FarmID, n.BedID, n.ForecastID)
	})
	if err != nil {
		return nil, fmt.Errorf("picture of notice %d: %w", n.ID, err)
	}
	return picture.PNG(drawing(o, f.Bed, notice.CropName(s, f), s), pngScale)
}

// drawing is the picture of an outlook in a reader's words.
func drawing(o scene.Outlook, bed, crop string, s phrase.Speaker) picture.Bed {
	b := picture.Bed{
		Title: bed + ", " + crop, Headline: headline(o.Verdict, s), Zone: o.Zone, Units: s.Units,
		Deadline: o.Verdict.HarvestBefore, Now: o.Verdict.AsOf, Phrases: picture.PhrasesFor(s, o.Verdict.Organ),
	}
	for _, h := range o.Hours {
		b.Hours = append(b.Hours, picture.Hour{
			At: h.At, AirP10: unit.Some(h.AirP10), AirP50: unit.Some(h.AirP50), AirP90: unit.Some(h.AirP90),
			TissueP10: unit.Some(h.TissueP10), TissueP50: unit.Some(h.TissueP50), TissueP90: unit.Some(h.TissueP90),
			Tolerance: unit.Some(h.Tolerance), SnowCm: unit.Some(h.SnowCm), Workable: h.Workable,
			Night: !microclimate.SunUp(h.At, o.Latitude, o.Longitude),
		})
	}
	return b
}

func headline(v farm.Verdict, s phrase.Speaker) string {
	if by, ok := v.HarvestBefore.Get(); ok {
		return s.Say("state.harvest_before", phrase.Args{"deadline": s.When(by)})
	}
	return s.Say("state."+string(v.State), nil)
}
