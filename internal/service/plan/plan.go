package plan

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/unit"
)

// PlannedBed is a bed of the plan as people know it.
type PlannedBed struct {
	BedID      int64               `json:"bed_id"`
	Name       string              `json:"name"`
	Field      string              `json:"field"`
	Crop       string              `json:"crop"`
	Variety    string              `json:"variety,omitempty"`
	Deadline   time.Time           `json:"harvest_before"`
	Zone       *time.Location      `json:"-"` // of its field
	Likelihood float64             `json:"likelihood"`
	StandingKg unit.Maybe[float64] `json:"standing_kg"`
	KgPerHour  float64             `json:"lift_kg_per_hour"`
	RateGiven  bool                `json:"rate_given"` // false: a default of its kind of crop
	NoRoomKind bool                `json:"no_suitable_room"`
	Titles     map[string]string   `json:"-"` // the crop's names by language
}

// PlannedRoom is a room of the plan as people know it.
type PlannedRoom struct {
	RoomID int64               `json:"room_id"`
	Name   string              `json:"name"`
	FreeKg unit.Maybe[float64] `json:"free_kg"`
}

// Plan is the lifting plan of a farm.
type Plan struct {
	lifting.Result
	AsOf      time.Time
	Zone      *time.Location // of the crew's clock
	Currency  string
	Beds      []PlannedBed  // by deadline
	Stores    []PlannedRoom // rooms it may use
	CrewGiven bool          // false: one person in every hour in which a bed can be harvested
	Left      []int64       // beds that the grower answered to leave
	Unseen    []int64       // beds that cannot be judged now

	names map[int64]string // of all beds
}

// Plan gives the best use of the crew's coming hours and of the room there is.
// Beds count that have a deadline to come, or none left; those that hold are
// left standing.
func (l Reader) Plan(ctx context.Context, farmID int64) (Plan, error) {
	s, err := l.farmState(ctx, farmID)
	if err != nil {
		return Plan{}, err
	}
	stores, err := l.Stores(ctx, farmID)
	if err != nil {
		return Plan{}, err
	}
	p := Plan{AsOf: s.now, Zone: s.crewZone(), Currency: s.farm.Currency, Beds: []PlannedBed{}, Stores: []PlannedRoom{},
		CrewGiven: len(s.farm.Crew) > 0, Left: []int64{}, Unseen: []int64{}, names: map[int64]string{}}
	for _, b := range s.beds {
		p.names[b.ID] = b.Name
	}
	beds := l.jobs(&p, s, stores)
	windows, err := crewTime(p, s.farm, beds)
	if err != nil {
		return p, fmt.Errorf("farm %d: %w", farmID, err)
	}
	var rooms []lifting.Room
	for _, r := range stores {
		rooms = append(rooms, lifting.Room{ID: r.ID, Kind: r.Kind, FreeKg: r.FreeKg})
		p.Stores = append(p.Stores, PlannedRoom{r.ID, r.Name, r.FreeKg})
	}
	p.Result, err = lifting.Plan(beds, windows, rooms)
	return p, err
}

// jobs are the beds to plan.
func (l Reader) jobs(p *Plan, s farmState, stores []Room) []lifting.Bed {
	var out []lifting.Bed
	for _, b := range s.beds {
		v := s.verdict(b)
		if kg, known := b.StandingKg.Get(); known && kg == 0 {
			continue
		}
		if v.State == farm.Unknown {
			p.Unseen = append(p.Unseen, b.ID)
			continue
		}
		by, due := dueBy(v, p.AsOf)
		if !due {
			continue
		}
		if quiet, ok := b.QuietUntil.Get(); ok && p.AsOf.Before(quiet) {
			p.Left = append(p.Left, b.ID)
			continue
		}
		job, shown := l.job(s, b, v, by, stores)
		out, p.Beds = append(out, job), append(p.Beds, shown)
	}
	slices.SortStableFunc(p.Beds, func(a, b PlannedBed) int { return a.Deadline.Compare(b.Deadline) })
	return out
}

// dueBy is the bed's deadline, or the hour of danger where no window is left
// before it. What a passed night took, or what holds, is not to be planned.
func dueBy(v farm.Verdict, now time.Time) (time.Time, bool) {
	if v.AlreadyLost || v.State == farm.Holds {
		return now, false
	}
	if by, ok := v.HarvestBefore.Get(); ok {
		return by, by.After(now)
	}
	at, ok := v.Danger.Get()
	return at, ok && at.After(now)
}

func (l Reader) job(s farmState, b farm.Bed, v farm.Verdict, by time.Time, stores []Room) (lifting.Bed, PlannedBed) {
	c := s.crops[b.Crop]
	rate, given := b.LiftKgPerHour.Get()
	if !given {
		rate = lifting.DefaultRate(c.Family)
	}
	kinds, missing := l.roomsFor(b, c.Family, stores)
	job := lifting.Bed{
		ID: b.ID, Deadline: by, Likelihood: v.Likelihood.Else(1), Kg: b.StandingKg, PricePerKg: b.PricePerKg, KgPerHour: rate,
		Workable: spans(v.Windows), RoomKinds: kinds,
	}
	return job, PlannedBed{
		BedID: b.ID, Name: b.Name, Field: s.fields[b.FieldID].Name, Crop: b.Crop, Variety: b.Variety, Deadline: by, Zone: s.place(b).Zone,
		Likelihood: job.Likelihood, StandingKg: b.StandingKg, KgPerHour: rate, RateGiven: given, NoRoomKind: missing, Titles: c.Titles,
	}
}

// roomsFor are the kinds of room a harvest suits. Where the farm has none of
// them, room does not hold the harvest back: it is said, and the rest is the
// grower's to find.
func (l Reader) roomsFor(b farm.Bed, family string, stores []Room) (kinds []string, missing bool) {
	book, err := l.table()
	if err != nil {
		return nil, false
	}
	entry, err := book.Entry(b.Crop, family)
	if err != nil {
		return nil, false
	}
	kinds = entry.RoomsAtHarvest()
	suits := func(r Room) bool { return slices.Contains(kinds, r.Kind) }
	if len(stores) > 0 && !slices.ContainsFunc(stores, suits) {
		return nil, true
	}
	return kinds, false
}

// spans is never nil: a bed without windows is not workable at all.
func spans(ws []farm.Window) []lifting.Span {
	out := []lifting.Span{}
	for _, w := range ws {
		out = append(out, lifting.Span{Start: w.Start, End: w.End})
	}
	return out
}

// crewTime is when people are there, up to the last deadline. Where no crew is
// given it is one person in every hour in which some bed can be harvested.
func crewTime(p Plan, f farm.Farm, beds []lifting.Bed) ([]lifting.Window, error) {
	var last time.Time
	var open []lifting.Span
	for _, b := range beds {
		if b.Deadline.After(last) {
			last = b.Deadline
		}
		open = append(open, b.Workable...)
	}
	if !last.After(p.AsOf) {
		return nil, nil
	}
	if p.CrewGiven {
		return lifting.Windows(f.Crew, p.Zone, p.AsOf, last)
	}
	return alone(open, p.AsOf, last), nil
}

// crewZone is the clock that the crew lives by: that of the fields. A crew is one
// and has one clock, so where fields differ it is the farm's, if a field keeps
// it, else the first field's. A farm with no field has nothing to lift.
func (s farmState) crewZone() *time.Location {
	ids := slices.Sorted(maps.Keys(s.places))
	for _, id := range ids {
		if at := s.places[id]; sameClock(at.Zone, s.zone, s.now) {
			return at.Zone
		}
	}
	if len(ids) == 0 {
		return s.zone
	}
	return s.places[ids[0]].Zone
}

func sameClock(a, b *time.Location, now time.Time) bool {
	_, east := now.In(a).Zone()
	_, other := now.In(b).Zone()
	return east == other
}

// alone joins spans that overlap, cut to [from, to).
func alone(open []lifting.Span, from, to time.Time) []lifting.Window {
	slices.SortFunc(open, func(a, b lifting.Span) int { return a.Start.Compare(b.Start) })
	var out []lifting.Window
	for _, s := range open {
		if s.Start.Before(from) {
			s.Start = from
		}
		if s.End.After(to) {
			s.End = to
		}
		n := len(out) - 1
		switch {
		case !s.Start.Before(s.End):
		case n >= 0 && !s.Start.After(out[n].End):
			if s.End.After(out[n].End) {
				out[n].End = s.End
			}
		default:
			out = append(out, lifting.Window{Span: s, People: 1})
		}
	}
	return out
}
