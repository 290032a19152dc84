package round

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/teach"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Memo kinds of what a farm has taught, and of its being forgotten. Resetting
// writes the moment into the …Since memo: what came before counts no longer.
const (
	BiasMemo           = "bias"            // owner field:ID, a microclimate.FieldBias
	BiasSinceMemo      = "bias-since"      // owner field:ID, a time
	ToleranceMemo      = "tolerance"       // owner ToleranceOwner, a Taught
	ToleranceSinceMemo = "tolerance-since" // owner ToleranceOwner, a time
)

// Taught is a learned shift of a crop's tolerance on one farm.
type Taught struct {
	Offset   unit.Kelvins `json:"offset_k"` // negative: stands more than the book
	Sigma    unit.Kelvins `json:"sigma_k"`
	Nights   int          `json:"nights"`   // that had something to say
	Findings int          `json:"findings"` // that were heard
}

// ToleranceOwner names the memo of a farm, crop and variety.
func ToleranceOwner(farmID int64, crop, variety string) string {
	return fmt.Sprintf("farm:%d/%s/%s", farmID, crop, variety)
}

// Forget resets something learned (kind BiasMemo or ToleranceMemo) for an owner.
func (w *Watcher) Forget(ctx context.Context, kind, owner string) error {
	return w.Store.Write(ctx, func(tx store.Writer) error {
		if err := tx.DropMemo(ctx, owner, kind); err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
		return remember(ctx, tx, owner, kind+"-since", w.Now(), w.Now())
	})
}

// leastNightReadings and its hours: from readings of the air a night's minimum
// is taken only when they cover the hours before dawn.
const leastNightReadings = 4

// biasFrom learns a field's bias from the grower's readings against the air of
// the cell in the same nights. Every round learns from the beginning, so that
// the same readings give the same bias.
func biasFrom(readings []farm.Reading, past []weather.Hour, zone *time.Location, since time.Time) microclimate.FieldBias {
	var bias microclimate.FieldBias
	read := nightMinima(readings, zone, since)
	cell := cellNights(past, zone)
	for _, night := range sortedDays(read) {
		if c, ok := cell[night]; ok {
			bias.Update(read[night], c.low, 2*c.calm > c.hours)
		}
	}
	return bias
}

func sortedDays[V any](m map[farm.Day]V) []farm.Day {
	var days []farm.Day
	for d := range m {
		days = append(days, d)
	}
	slices.Sort(days)
	return days
}

// nightMinima are what the thermometer said of each night: a minimum as read,
// else the lowest of enough readings of the air.
func nightMinima(readings []farm.Reading, zone *time.Location, since time.Time) map[farm.Day]unit.Celsius {
	out, air := map[farm.Day]unit.Celsius{}, map[farm.Day][]farm.Reading{}
	for _, r := range readings {
		if r.At.Before(since) {
			continue
		}
		switch r.Quantity {
		case farm.ReadAirMin:
			// A minimum read during the day is that of the night before it.
			out[farm.DayOf(r.At, zone).Add(-1)] = unit.Celsius(r.Value)
		case farm.ReadAir:
			night := farm.NightOf(r.At, zone)
			air[night] = append(air[night], r)
		}
	}
	for night, rs := range air {
		if _, ok := out[night]; !ok && coversDawn(rs, zone) {
			low := slices.MinFunc(rs, func(a, b farm.Reading) int { return int(math.Copysign(1, a.Value-b.Value)) })
			out[night] = unit.Celsius(low.Value)
		}
	}
	return out
}

func coversDawn(rs []farm.Reading, zone *time.Location) bool {
	dawn := 0
	for _, r := range rs {
		if h := r.At.In(zone).Hour(); h >= 2 && h < 8 {
			dawn++
		}
	}
	return dawn >= leastNightReadings
}

type cellNight struct {
	low         unit.Celsius
	hours, calm int
}

func cellNights(past []weather.Hour, zone *time.Location) map[farm.Day]cellNight {
	out := map[farm.Day]cellNight{}
	for _, h := range past {
		air, ok := h.Air.Get()
		if !ok {
			continue
		}
		night := farm.NightOf(h.At, zone)
		n, seen := out[night]
		if !seen || air < n.low {
			n.low = air
		}
		n.hours++
		if microclimate.ClearCalm(h) {
			n.calm++
		}
		out[night] = n
	}
	return out
}

// lesson is all that was found about one crop on one farm.
type lesson struct {
	owner string
	found []heard
}

type heard struct {
	plot    plot
	finding farm.Finding
}

// learn hears the findings of a cell's farms and writes what they teach, where
// there are some that have not been heard.
func (k *knowledge) learn(ctx context.Context) error {
	lessons, err := k.lessons(ctx)
	if err != nil {
		return err
	}
	for _, l := range lessons {
		var was Taught
		if old, ok := k.learned[l.owner]; ok {
			if err := json.Unmarshal(old, &was); err != nil {
				k.w.Log.Error("learned tolerance cannot be read and is learned anew", "owner", l.owner, "error", err)
			}
		}
		if was.Findings == len(l.found) {
			continue
		}
		if err := k.take(ctx, l); err != nil {
			return err
		}
	}
	return nil
}

// take writes what a lesson teaches.
func (k *knowledge) take(ctx context.Context, l *lesson) error {
	var nights []teach.Night
	for _, h := range l.found {
		if n, ok := k.replay(&h.plot, h.finding); ok {
			nights = append(nights, n)
		}
	}
	got := teach.Learn(l.found[0].plot.plant.Crop.Spread, nights)
	now := Taught{Offset: got.Offset, Sigma: got.Sigma, Nights: got.Nights, Findings: len(l.found)}
	body, err := json.Marshal(now)
	if err != nil {
		return fmt.Errorf("lesson %s: %w", l.owner, err)
	}
	k.learned[l.owner] = body
	return k.w.Store.Write(ctx, func(tx store.Writer) error {
		return tx.SetMemo(ctx, l.owner, ToleranceMemo, body, k.w.Now())
	})
}

// lessons gathers the findings by what they are about, in order.
func (k *knowledge) lessons(ctx context.Context) ([]*lesson, error) {
	byOwner := map[string]*lesson{}
	var order []*lesson
	for _, farmID := range sortedKeys(k.findings) {
		for _, f := range k.findings[farmID] {
			h, owner, err := k.hear(ctx, farmID, f)
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

// hear says what a finding is about; an empty owner: nothing that counts here.
func (k *knowledge) hear(ctx context.Context, farmID int64, f farm.Finding) (heard, string, error) {
	bed, err := k.w.Store.Bed(ctx, farmID, f.BedID)
	if err != nil {
		return heard{}, "", fmt.Errorf("bed %d of finding %d: %w", f.BedID, f.ID, err)
	}
	if k.fields[bed.FieldID].field.ID == 0 {
		return heard{}, "", nil // another cell's
	}
	p := k.bare(bed)
	if p.broken != "" {
		return heard{}, "", nil
	}
	owner := ToleranceOwner(farmID, p.plant.Crop.Name, bed.Variety)
	var since time.Time
	err = k.w.recall(ctx, owner, ToleranceSinceMemo, &since)
	if err != nil || f.CreatedAt.Before(since) {
		return heard{}, "", err
	}
	return heard{plot: p, finding: f}, owner, nil
}

// replay gives the loss of one night for every shift. The night must lie wholly
// in the history.
func (k *knowledge) replay(p *plot, f farm.Finding) (teach.Night, bool) {
	from, to := f.Night.Noon(p.zone).UTC().Truncate(time.Hour), f.Night.Add(1).Noon(p.zone).UTC().Truncate(time.Hour)
	if from.Before(k.s.start.Add(24*time.Hour)) || to.After(k.s.now) {
		return teach.Night{}, false
	}
	book := bed.NewBook(&p.class, []bed.Plant{p.plant}, k.s.start)
	if err := book.Advance(&p.class, []bed.Plant{p.plant}, between(k.s, k.s.start, from)); err != nil {
		return teach.Night{}, false
	}
	before := book.Plants[p.plant.Key()]
	n := teach.Night{Seen: f.LostFraction}
	for _, shift := range teach.Shifts() {
		plant := p.plant
		plant.Offset = shift
		one := bed.Book{Ground: book.Ground, Plants: map[string]bed.State{plant.Key(): whole(before)}}
		if err := one.Advance(&p.class, []bed.Plant{plant}, between(k.s, from, to)); err != nil {
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
