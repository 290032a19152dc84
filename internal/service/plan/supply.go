package plan

import (
	"context"
	"fmt"
	"math"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/storage/supply"
	"winterstand/internal/unit"
)

// Supply is the outlook with what it rests on.
type Supply struct {
	supply.Result
	AsOf   time.Time      `json:"as_of"`
	Zone   *time.Location `json:"-"`
	Lifted bool           `json:"plan_carried_out"`
	Winter Basis          `json:"after_the_forecast"` // what the chances after the forecast's end come from
	Unkept []int64        `json:"lots_of_unknown_life,omitempty"`
	Beds   []Expectation  `json:"beds"`
}

// Basis of the chances after the forecast's end.
type Basis string

// Bases.
const (
	NormalWinter Basis = "normal-winter" // own default by latitude and elevation
	PastWinters  Basis = "past-winters"  // a history that the farm brought, for the crops it holds
)

// Expectation is what is expected of one bed.
type Expectation struct {
	BedID  int64                `json:"bed_id"`
	Name   string               `json:"name"`
	Crop   string               `json:"crop"`
	Kg     unit.Maybe[float64]  `json:"standing_kg"` // as entered, less what the model or a finding says was lost
	Alive  []supply.Chance      `json:"alive"`
	Winter Basis                `json:"after_the_forecast"`
	Unseen bool                 `json:"unseen,omitempty"` // it cannot be judged now: the chances are those of winters, no forecast
	Regrow unit.Maybe[Regrowth] `json:"regrowth,omitzero"`
}

// Regrowth is what an overwintered crown is expected to give in spring.
type Regrowth struct {
	From       farm.Day `json:"from"`
	Until      farm.Day `json:"until"`
	Kg         float64  `json:"kg"`
	Likelihood float64  `json:"likelihood"`
}

func regrow(m unit.Maybe[Regrowth]) unit.Maybe[supply.Regrowth] {
	if r, ok := m.Get(); ok {
		return unit.Some(supply.Regrowth(r))
	}
	return unit.None[supply.Regrowth]()
}

// Supply says week by week what is wanted, stands, is stored and runs out, up
// to the end of the next spring gap; lifted: as it would be with the lifting
// plan carried out.
func (l Reader) Supply(ctx context.Context, farmID int64, lifted bool) (Supply, error) {
	s, err := l.farmState(ctx, farmID)
	if err != nil {
		return Supply{}, err
	}
	stores, err := l.Stores(ctx, farmID)
	if err != nil {
		return Supply{}, err
	}
	past, err := l.Season(ctx, farmID)
	if err != nil {
		return Supply{}, err
	}
	out, in := s.outlook(past, stores)
	in.Seed = uint64(farmID)
	if lifted {
		if err := l.lift(ctx, farmID, s, stores, &in); err != nil {
			return out, err
		}
		out.Lifted = true
	}
	if out.Result, err = supply.Outlook(in); err != nil {
		return out, fmt.Errorf("farm %d: %w", farmID, err)
	}
	return out, nil
}

// outlook gathers what the supply is made of.
func (s farmState) outlook(past Season, stores []Room) (Supply, supply.Input) {
	out := Supply{AsOf: s.now, Zone: s.zone, Winter: NormalWinter, Beds: []Expectation{}}
	in := supply.Input{Now: out.AsOf, Zone: s.zone, Gap: supply.GapAt(s.latitude())}
	for _, b := range s.beds {
		e := s.expect(b, past, out.AsOf)
		if e.Winter == PastWinters {
			out.Winter = PastWinters
		}
		out.Beds = append(out.Beds, e)
		in.Standing = append(in.Standing, supply.Standing{BedID: b.ID, Crop: b.Crop, Kg: e.Kg, Alive: e.Alive, NotAfter: s.bolts(b, out.AsOf), Regrow: regrow(e.Regrow)})
	}
	for _, r := range stores {
		for _, x := range r.Lots {
			if x.Why != "" {
				out.Unkept = append(out.Unkept, x.ID)
				continue
			}
			in.Lots = append(in.Lots, supply.Lot{LotID: x.ID, Crop: x.Crop, Kg: x.Kg, P10: x.UseBy.P10, P50: x.UseBy.P50, P90: x.UseBy.P90})
		}
	}
	for _, w := range s.farm.Wanted {
		in.Wants = append(in.Wants, supply.Want{Crop: w.Crop, KgPerWeek: w.KgPerWeek, From: w.From, To: w.To})
	}
	return out, in
}

// latitude of the farm: that of its first field, north without one.
func (s farmState) latitude() float64 {
	first, err := s.lookedAt(0)
	if err != nil {
		return 0
	}
	return s.places[first.ID].Latitude
}

// horizon is how far the chances are followed, in days: past the next June
// whatever the day is. Own default.
const horizon = 420

// step of the chances after the forecast's end, in days.
const step = 7

// expect says how long a bed is likely to stand: by the forecast as far as that
// reaches, then by what winters are like.
func (s farmState) expect(b farm.Bed, past Season, now time.Time) Expectation {
	e := Expectation{BedID: b.ID, Name: b.Name, Crop: b.Crop, Kg: b.StandingKg, Winter: NormalWinter}
	v := s.verdict(b)
	e.Unseen = v.State == farm.Unknown
	c, known := s.crops[b.Crop]
	if kg, ok := e.Kg.Get(); ok && !e.Unseen {
		e.Kg = unit.Some(kg * v.SoldLeft)
	}
	today := s.today(b, now)
	if v.AlreadyLost {
		e.Alive = []supply.Chance{{Day: today, P: 0}}
	} else {
		e.Alive = forecast(v, b, c, today)
		e.Winter = s.winter(&e, b, c, past, today)
	}
	if known {
		e.Regrow = s.regrowth(b, c, v, today)
	}
	return e
}

// forecast gives the chances of the coming nights. A verdict on the crown says
// nothing of the leaves, which go before it: there the winter's own chances
// count from today on.
func forecast(v farm.Verdict, b farm.Bed, c crop.Crop, today farm.Day) []supply.Chance {
	out := []supply.Chance{{Day: today, P: 1}}
	if b.Purpose == farm.Overwinter && c.Regrow.Known() {
		return out
	}
	for _, n := range v.Nights {
		p := math.Min(out[len(out)-1].P, 1-n.Likelihood)
		if day := n.Night.Add(1); day > out[len(out)-1].Day {
			out = append(out, supply.Chance{Day: day, P: math.Max(0, p)})
		}
	}
	return out
}

// rounded to a thousandth: nobody knows it better, and what is hardly a chance
// is none.
func rounded(p float64) float64 { return math.Round(p*1000) / 1000 }

// winter follows the chances from the forecast's end on.
func (s farmState) winter(e *Expectation, b farm.Bed, c crop.Crop, past Season, today farm.Day) Basis {
	last := e.Alive[len(e.Alive)-1]
	row, ours := past.row(c.Name, b.CoverOn(today), b.MulchOn(today))
	stands := normal(bed.SiteOf(s.place(b)), limit(b, c, today)+float64(s.place(b).LowSpot), last.Day)
	if ours {
		stands = remembered(row, last.Day)
	}
	for day := last.Day.Add(step); day < today.Add(horizon) && e.Alive[len(e.Alive)-1].P > 0; day = day.Add(step) {
		e.Alive = append(e.Alive, supply.Chance{Day: day, P: math.Min(e.Alive[len(e.Alive)-1].P, rounded(last.P*stands(day)))})
	}
	if ours {
		return PastWinters
	}
	return NormalWinter
}
