package season

import (
	"fmt"
	"slices"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/hardiness"
	"winterstand/internal/microclimate"
	"winterstand/internal/stand"
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

// Play takes every crop through one winter over one ground, unhardened at its
// start, and says when its loss passed LossShare. From the first hour without
// air on nothing can be known: what still stands there is Incomplete.
func (b Bed) Play(crops []crop.Crop, w Winter) ([]Outcome, error) {
	plants := make([]plant, len(crops))
	for i, c := range crops {
		plants[i] = plant{crop: c, sold: stand.SoldOrgan(c), params: hardiness.ForSold(c), state: hardiness.Start(c.Sold, c.Sold.Unhardened)}
	}
	end := Incomplete
	if b.covers(w) {
		end = Stood
	}
	if len(w.Hours) > 0 {
		whole, err := b.play(plants, w.Hours)
		if err != nil {
			return nil, fmt.Errorf("winter %s: %w", Name(w.Year), err)
		}
		if !whole {
			end = Incomplete
		}
	}
	frost := b.firstFrost(w.Hours)
	out := make([]Outcome, len(plants))
	for i, p := range plants {
		out[i] = Outcome{Winter: w.Year, Crop: p.crop.Name, Cover: b.cover(), MulchCm: b.Dressing.MulchCm,
			State: end, By: p.out, FirstFrost: frost, MissingDays: w.MissingDays}
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
	sold   stand.Organ
	params hardiness.Params
	state  hardiness.State
	out    unit.Maybe[farm.Day]
}

// play steps ground and plants until the hours end or no plant is left; whole
// is false when an hour without air came before that.
func (b Bed) play(plants []plant, hours []weather.Hour) (whole bool, err error) {
	ground := microclimate.NewGround(b.Site, hours[0].At)
	left := make([]*plant, len(plants))
	for i := range plants {
		left[i] = &plants[i]
	}
	for _, h := range hours {
		if !h.Air.Known() {
			return false, nil
		}
		if err := ground.Step(&b.Site, b.Dressing, h); err != nil {
			return false, err
		}
		if left, err = b.hour(&ground, left, h); err != nil {
			return false, err
		}
		if len(left) == 0 {
			break
		}
	}
	return true, nil
}

// hour takes the plants that are left through an hour and gives those that
// stay. Plants that feel the same share the reading.
func (b Bed) hour(ground *microclimate.Ground, plants []*plant, h weather.Hour) ([]*plant, error) {
	felt := make(map[stand.Organ]unit.Celsius, 16)
	left := plants[:0]
	for _, p := range plants {
		t, ok := felt[p.sold]
		if !ok {
			var err error
			if t, err = p.sold.Temperature(ground, &b.Site, b.Dressing, h); err != nil {
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
