package plan

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/skill"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Nights from before any verdict to after every one.
const (
	firstNight = farm.Day("0001-01-01")
	lastNight  = farm.Day("9999-12-31")
)

// Skill says how the verdicts of a farm did; farm 0: of all farms.
func (l Reader) Skill(ctx context.Context, farmID int64) (skill.Report, error) {
	judged, err := l.Books.Judgements(ctx, farmID, firstNight, lastNight)
	if err != nil {
		return skill.Report{}, fmt.Errorf("judgements of farm %d: %w", farmID, err)
	}
	first := toldAt(judged)
	zones := map[int64]*time.Location{}
	var rows []skill.Judged
	for _, j := range judged {
		if zones[j.BedID] == nil {
			if zones[j.BedID], err = l.zoneOf(ctx, j.FarmID, j.BedID); err != nil {
				return skill.Report{}, err
			}
		}
		rows = append(rows, l.judged(j, first[fmt.Sprint(j.BedID, j.Night)], zones[j.BedID]))
	}
	return skill.Score(rows, skill.DefaultOptions())
}

// zoneOf a bed is its field's: nights are named in it.
func (l Reader) zoneOf(ctx context.Context, farmID, bedID int64) (*time.Location, error) {
	b, err := l.Books.Bed(ctx, farmID, bedID)
	if err != nil {
		return nil, fmt.Errorf("bed %d: %w", bedID, err)
	}
	f, err := l.Books.Field(ctx, farmID, b.FieldID)
	if err != nil {
		return nil, fmt.Errorf("field %d: %w", b.FieldID, err)
	}
	at, err := store.PlaceOf(ctx, l.Books, f)
	return at.Zone, err
}

// toldAt is when a notice first stood for a bed and night.
func toldAt(judged []store.Judgement) map[string]time.Time {
	first := map[string]time.Time{}
	for _, j := range judged {
		key := fmt.Sprint(j.BedID, j.Night)
		if at, ok := first[key]; j.Acted && (!ok || j.IssuedAt.Before(at)) {
			first[key] = j.IssuedAt
		}
	}
	return first
}

// judged turns an entry of the book into a row to score. The first hour of loss
// is not written down: midnight of the night stands in for it, which is before
// the cold end of a frost night.
func (l Reader) judged(j store.Judgement, since time.Time, zone *time.Location) skill.Judged {
	row := skill.Judged{
		Bed: fmt.Sprint(j.BedID), Crop: j.Crop, Night: j.Night, LeadDays: j.LeadDays, Likelihood: j.Likelihood, Acted: j.Acted,
		AirLowForecast: unit.Some(unit.Celsius(j.AirMinC)), Lost: j.Lost,
	}
	if j.Acted {
		row.Lead = max(0, j.Night.Add(1).Start(zone).Sub(since))
	}
	if c, err := l.Catalogue.Find(j.Crop); err == nil {
		row.ListThreshold = c.ListThreshold()
	}
	return row
}
