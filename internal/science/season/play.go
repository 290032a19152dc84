package season

import (
	"fmt"
	"slices"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/hardiness"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// LossShare is the loss of market quality by which a crop should have been out;
// own default.
const LossShare = 0.2

// Bed is where and under what the crops stand.
type Bed struct {
	Site     microclimate.Site
	Dressing microclimate.Dressing // for the whole winter
	Zone     *time.Location        // in which nights and days are counted
}

// Play takes every crop through one winter over the ground under its leaves,
// unhardened at its start, and says when its loss passed LossShare. From the first hour without
// air on nothing can be known: what still stands there is Incomplete.
func (b Bed) Play(crops []crop.Crop, w Winter) ([]Outcome, error) {
	plants := make([]plant, len(crops))
	for i, c := range crops {
		plants[i] = plant{crop: c, sold: bed.SoldOrgan(c), params: hardiness.ForSold(c), state: hardiness.Start(c.Sold, c.Sold.Unhardened)}
	}
	end := Incomplete
	if b.covers(w) {
		end = Stood
	}
	for foliage, group := range byFoliage(plants) {
		if err := b.play(foliage, group, w.Hours); err != nil {
			return nil, fmt.Errorf("winter %s: %w", Name(w.Year), err)
		}
	}
	frost := b.firstFrost(w.Hours)
	out := make([]Outcome, len(plants))
	for i, p := range plants {
		out[i] = Outcome{Winter: w.Year, Crop: p.crop.Name, Cover: b.cover(), MulchCm: b.Dressing.MulchCm,
			State: end, By: p.out, FirstFrost: frost, MissingDays: w.MissingDays}
		if p.blind {
			out[i].State = Incomplete
		}
		if night, ok := p.out.Get(); ok {
			out[i].State, out[i].Low = Out, b.lowOf(night, w.Hours)
		}
	}
	return out, nil
}

// covers tells whether the hours reach from the first day to the last.
func (b Bed) covers(w Winter) bool {
	return len(w.Hours) > 0 && !w.Hours[0].At.After(First(w.Year).Noon(b.Zone)) &&
		!w.Hours[len(w.Hours)-1].At.Before(End(w.Year).Add(-1).Noon(b.Zone))
}

func (b Bed) cover() string {
	if b.Dressing.Cover == "" {
		return string(microclimate.NoCover)
	}
	return string(b.Dressing.Cover)
}

// plant is one crop on its way through a winter.
type plant struct {
	crop   crop.Crop
	sold   bed.Organ
	params hardiness.Params
	state  hardiness.State
	out    unit.Maybe[farm.Day]
	blind  bool // still stood when an hour without air came
}

// byFoliage gathers the plants that share ground.
func byFoliage(plants []plant) map[bed.Foliage][]*plant {
	groups := map[bed.Foliage][]*plant{}
	for i := range plants {
		f := bed.FoliageOf(plants[i].crop)
		groups[f] = append(groups[f], &plants[i])
	}
	return groups
}

// play steps ground and plants until the hours or their air end or no plant is left.
func (b Bed) play(foliage bed.Foliage, left []*plant, hours []weather.Hour) error {
	if len(hours) == 0 {
		return nil
	}
	ground, on := microclimate.NewGround(b.Site, hours[0].At), foliage.Over(b.Dressing)
	for _, h := range hours {
		if !h.Air.Known() {
			for _, p := range left {
				p.blind = true
			}
			return nil
		}
		err := ground.Step(&b.Site, on, h)
		if err == nil {
			left, err = b.hour(&ground, on, left, h)
		}
		if err != nil || len(left) == 0 {
			return err
		}
	}
	return nil
}

// hour takes the plants that are left through an hour and gives those that
// stay. Plants that feel the same share the reading.
func (b Bed) hour(ground *microclimate.Ground, on microclimate.Dressing, plants []*plant, h weather.Hour) ([]*plant, error) {
	felt := make(map[bed.Organ]unit.Celsius, 16)
	left := plants[:0]
	for _, p := range plants {
		t, ok := felt[p.sold]
		if !ok {
			var err error
			if t, err = p.sold.Temperature(ground, &b.Site, on, h); err != nil {
				return nil, err
			}
			felt[p.sold] = t
		}
		next, err := hardiness.Step(p.params, p.state, t)
		if err != nil {
			return nil, fmt.Errorf("%s at %s: %w", p.crop.Name, h.At.Format(time.RFC3339), err)
		}
		p.state = next
		if 1-next.Quality > LossShare {
			p.out = unit.Some(farm.NightOf(h.At, b.Zone))
			continue
		}
		left = append(left, p)
	}
	return left, nil
}

// firstFrost is the first night with air at or below 0 °C.
func (b Bed) firstFrost(hours []weather.Hour) unit.Maybe[farm.Day] {
	for _, h := range hours {
		if air, ok := h.Air.Get(); ok && air <= 0 {
			return unit.Some(farm.NightOf(h.At, b.Zone))
		}
	}
	return unit.None[farm.Day]()
}

// lowOf is the lowest air of a night, from noon to noon.
func (b Bed) lowOf(night farm.Day, hours []weather.Hour) unit.Maybe[unit.Celsius] {
	from, to := night.Noon(b.Zone), night.Add(1).Noon(b.Zone)
	i, _ := slices.BinarySearchFunc(hours, from, func(h weather.Hour, t time.Time) int { return h.At.Compare(t) })
	var low unit.Maybe[unit.Celsius]
	for ; i < len(hours) && hours[i].At.Before(to); i++ {
		if air, ok := hours[i].Air.Get(); ok && air < low.Else(air+1) {
			low = unit.Some(air)
		}
	}
	return low
}
