package scene

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/hardiness"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// plot is one bed with all that its judgement needs.
type Plot struct {
	Bed    farm.Bed
	Field  store.Field
	Owner  farm.Farm
	Zone   *time.Location
	Class  bed.Class
	Plant  bed.Plant
	Spread unit.Kelvins
	Broken farm.GapKind // why it cannot be judged; empty: it can
}

// plots loads the standing beds of a cell.
func (k *Knowledge) Plots(ctx context.Context) ([]Plot, error) {
	beds, err := k.Reader.Store.BedsOfCell(ctx, k.Scene.Cell.ID)
	if err != nil {
		return nil, fmt.Errorf("beds of %s: %w", k.Scene.Cell.Key, err)
	}
	out := make([]Plot, 0, len(beds))
	for _, b := range beds {
		out = append(out, k.Plot(b))
	}
	return out, nil
}

// plot is a bed as it is judged: with what the farm has taught and found.
func (k *Knowledge) Plot(b farm.Bed) Plot {
	p := k.Bare(b)
	if p.Broken != "" {
		return p
	}
	p.Plant.Offset = b.ToleranceSet.Else(0)
	k.teach(&p)
	k.guess(&p)
	k.found(&p)
	return p
}

// bare is a bed by the book: place, class and plant of the catalogue.
func (k *Knowledge) Bare(b farm.Bed) Plot {
	fk := k.Fields[b.FieldID]
	owner := k.Farms[b.FarmID]
	place := fk.Field.In(k.Scene.Cell)
	p := Plot{Bed: b, Field: fk.Field, Owner: owner, Zone: place.Zone}
	c, err := k.Reader.Catalogue.Find(b.Crop)
	if err != nil {
		p.Broken = farm.GapCrop
		return p
	}
	p.Class = bed.ClassOf(place, b, fk.Bias, fk.Snow).Growing(c)
	p.Plant = bed.Plant{Crop: c}
	if day, ok := b.Sown(farm.DayOf(k.Scene.Now, p.Zone)).Get(); ok {
		p.Plant.Since = day.Start(p.Zone).UTC()
	}
	p.Spread = c.Spread
	return p
}

// found sets back the losses to what people saw. A bed that is registered
// stands: what the model thinks it lost before is void.
func (k *Knowledge) found(p *Plot) {
	p.Plant.Found = []bed.Finding{{At: p.Bed.CreatedAt.Truncate(time.Hour).Add(-time.Hour).Unix(), Left: 1}}
	for _, f := range k.Findings[p.Bed.FarmID] {
		if f.BedID == p.Bed.ID {
			p.Plant.Found = append(p.Plant.Found, bed.Finding{At: bed.FindingAt(f.Night, p.Zone), Left: 1 - f.LostFraction})
		}
	}
	slices.SortFunc(p.Plant.Found, func(a, b bed.Finding) int { return int(a.At - b.At) })
}

// teach applies what findings on this farm have shown.
func (k *Knowledge) teach(p *Plot) {
	body, ok := k.Learned[ToleranceOwner(p.Bed.FarmID, p.Plant.Crop.Name, p.Bed.Variety)]
	if !ok {
		return
	}
	var t Taught
	if err := json.Unmarshal(body, &t); err != nil {
		k.Reader.Log.Error("learned tolerance cannot be read and is left out", "bed", p.Bed.ID, "error", err)
		return
	}
	p.Plant.Offset += t.Offset
	p.Spread = t.Sigma
}

// guess widens the spread while there is too little history to start from.
func (k *Knowledge) guess(p *Plot) {
	if !k.Scene.thin() {
		return
	}
	_, start := hardiness.DefaultStart(p.Plant.Crop.Sold, k.Scene.Cell.Latitude, k.Scene.Start.YearDay())
	left := 1 - float64(k.Scene.Known)/enoughHistory
	p.Spread = unit.Kelvins(math.Sqrt(float64(p.Spread*p.Spread) + float64(start*start)*left))
}

// Gap is what makes the bed unseen, once it is Broken.
func (p *Plot) Gap() farm.Gap { return farm.Gap{What: p.Broken, Name: p.Bed.Crop} }
