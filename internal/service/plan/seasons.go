package plan

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/season"
	"winterstand/internal/store"
)

// SeasonMemo is the kind of memo that a farm's season outlook is kept in.
const SeasonMemo = "season-outlook"

// Season is what past winters did to the crops that a farm grows.
type Season struct {
	season.Outlook
	File    string    `json:"file"`     // as the grower named it
	Made    time.Time `json:"made_at"`  // zero: none has been made
	FieldID int64     `json:"field_id"` // whose place and soil it was played on
	Field   string    `json:"field"`
	Crops   []string  `json:"crops"`
	From    int       `json:"first_winter"` // year of its 1 August
	To      int       `json:"last_winter"`
	LeftOut int       `json:"winters_left_out"` // older ones, beyond the bound
	Filled  int       `json:"days_filled"`      // days whose maximum is what is usual
}

// Known tells whether there is an outlook.
func (s Season) Known() bool { return !s.Made.IsZero() }

// row of a crop under a dressing; the nearest to it that was played stands in:
// the same crop under less.
func (s Season) row(crop, cover string, mulchCm float64) (season.Row, bool) {
	for _, want := range []string{cover, string(microclimate.NoCover)} {
		i := slices.IndexFunc(s.Rows, func(r season.Row) bool {
			return r.Crop == crop && r.Cover == want && r.MulchCm == 0 && r.Winters >= LeastWinters && len(r.OutBy) > 0
		})
		if i >= 0 && mulchCm == 0 {
			return s.Rows[i], true
		}
	}
	return season.Row{}, false
}

// LeastWinters make a distribution; own default.
const LeastWinters = 5

// Season gives the outlook that was made last; not Known where there is none.
func (l Reader) Season(ctx context.Context, farmID int64) (Season, error) {
	var s Season
	body, err := l.Books.Memo(ctx, farmOwner(farmID), SeasonMemo)
	if errors.Is(err, store.ErrNotFound) {
		return s, nil
	}
	if err != nil {
		return s, fmt.Errorf("season outlook of farm %d: %w", farmID, err)
	}
	if err := json.Unmarshal(body, &s); err != nil {
		return s, fmt.Errorf("season outlook of farm %d: %w", farmID, err)
	}
	return s, nil
}

// NotPlayed are the crops that the farm grows or wants and that an outlook does
// not hold.
func (l Reader) NotPlayed(ctx context.Context, farmID int64, made Season) ([]string, error) {
	s, err := l.farmState(ctx, farmID)
	var out []string
	for _, c := range l.grown(s) {
		if !slices.Contains(made.Crops, c.Name) {
			out = append(out, c.Name)
		}
	}
	return out, err
}

func farmOwner(id int64) string { return fmt.Sprintf("farm:%d", id) }

// Bounds of one look back, own defaults: it takes seconds.
const (
	MostWinters = 60 // the newest
	mostCrops   = 40
)

// looking: looks back are made one after the other on one core, so that they
// do not keep the rounds waiting.
var looking = make(chan struct{}, 1)

// ErrNoCrops: the farm has no beds or wants to look back for.
var ErrNoCrops = errors.New("the farm has no beds and wants no crops yet: add those first")

// LookBack plays the winters of a daily or hourly history on a field for the
// crops that the farm grows or wants, without a cover and under the covers that
// lie on its beds. A fault of the file is a *weatherfile.Fault.
func (l Reader) LookBack(ctx context.Context, farmID, fieldID int64, name string, file []byte) (Season, error) {
	s, err := l.farmState(ctx, farmID)
	if err != nil {
		return Season{}, err
	}
	field, err := s.lookedAt(fieldID)
	if err != nil {
		return Season{}, err
	}
	crops := l.grown(s)
	if len(crops) == 0 {
		return Season{}, ErrNoCrops
	}
	past, err := readHistory(name, file, s.places[field.ID])
	if err != nil {
		return Season{}, err
	}
	out := Season{File: name, Made: l.now(), FieldID: field.ID, Field: field.Name, Filled: past.Filled, LeftOut: max(0, len(past.Years)-MostWinters)}
	years := past.Years[out.LeftOut:]
	out.From, out.To = years[0], years[len(years)-1]
	for _, c := range crops {
		out.Crops = append(out.Crops, c.Name)
	}
	select {
	case looking <- struct{}{}:
		defer func() { <-looking }()
	case <-ctx.Done():
		return Season{}, ctx.Err()
	}
	outcomes, err := season.Run(years, 1, past.Load, playing(ctx, s.dressed(field), crops), nil)
	if err != nil {
		return Season{}, fmt.Errorf("%s: %w", name, err)
	}
	out.Outlook = season.Summarise(outcomes)
	return out, nil
}

// Keep writes an outlook down as the farm's.
func (s Season) Keep(ctx context.Context, w store.Writer, farmID int64) error {
	body, err := json.Marshal(s)
	if err != nil {
		return fmt.Errorf("season outlook of farm %d: %w", farmID, err)
	}
	return w.SetMemo(ctx, farmOwner(farmID), SeasonMemo, body, s.Made)
}

// lookedAt is the named field, 0: the first of the farm.
func (s farmState) lookedAt(id int64) (farm.Field, error) {
	var first farm.Field
	for _, f := range s.fields {
		if f.ID == id || id == 0 && (first.ID == 0 || f.ID < first.ID) {
			first = f
		}
	}
	if first.ID == 0 {
		return first, fmt.Errorf("field %d: %w", id, store.ErrNotFound)
	}
	return first, nil
}

// grown are the crops of the beds and wants, by name.
func (l Reader) grown(s farmState) []crop.Crop {
	byName := map[string]crop.Crop{}
	for _, c := range s.crops {
		byName[c.Name] = c
	}
	for _, w := range s.farm.Wanted {
		if c, err := l.Catalogue.Find(w.Crop); err == nil {
			byName[c.Name] = c
		}
	}
	var out []crop.Crop
	for _, c := range byName {
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b crop.Crop) int {
		if a.Name < b.Name {
			return -1
		}
		return 1
	})
	return out[:min(len(out), mostCrops)]
}

// dressed are the grounds to play: bare, and under each cover on the farm's
// beds of today.
func (s farmState) dressed(f farm.Field) []season.Bed {
	at := s.places[f.ID]
	covers := []microclimate.Cover{microclimate.NoCover}
	for _, b := range s.beds {
		for _, c := range b.Covers {
			if k := microclimate.Cover(c.Kind); !slices.Contains(covers, k) && len(covers) < 3 {
				covers = append(covers, k)
			}
		}
	}
	var out []season.Bed
	for _, c := range covers {
		out = append(out, season.Bed{Site: bed.SiteOf(at), Dressing: microclimate.Dressing{Cover: c}, Zone: at.Zone})
	}
	return out
}

func playing(ctx context.Context, beds []season.Bed, crops []crop.Crop) season.Play {
	return func(w season.Winter) ([]season.Outcome, error) {
		var all []season.Outcome
		for _, b := range beds {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			got, err := b.Play(crops, w)
			if err != nil {
				return nil, err
			}
			all = append(all, got...)
		}
		return all, nil
	}
}
