package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Bed is a strip of a field with one standing crop.
type Bed struct {
	ID             int64                    `json:"id"`
	FieldID        int64                    `json:"field_id"`
	Name           string                   `json:"name"`
	Crop           string                   `json:"crop"`
	Variety        string                   `json:"variety,omitempty"`
	Purpose        farm.Purpose             `json:"purpose"`
	SownOn         unit.Maybe[farm.Day]     `json:"sown_on,omitzero"`
	StandingKg     unit.Maybe[float64]      `json:"standing_kg,omitzero" doc:"Left in the ground, kg"`
	PricePerKg     unit.Maybe[float64]      `json:"price_per_kg,omitzero" doc:"In the farm's currency"`
	LiftKgPerHour  unit.Maybe[float64]      `json:"lift_kg_per_hour,omitzero" doc:"What one person harvests in an hour, kg"`
	CostLoss       float64                  `json:"cost_loss" doc:"Its own, else that of its purpose"`
	Covers         []farm.Cover             `json:"covers"`
	MulchCm        float64                  `json:"mulch_cm" doc:"Straw now, cm"`
	ToleranceShift unit.Maybe[unit.Kelvins] `json:"tolerance_shift_k,omitzero" doc:"The grower's own shift, K"`
	QuietUntil     unit.Maybe[time.Time]    `json:"quiet_until,omitzero" doc:"Answered leave_it: nothing more is asked until then"`
	CreatedAt      time.Time                `json:"created_at"`
	ClearedAt      unit.Maybe[time.Time]    `json:"cleared_at,omitzero" doc:"It has ended; its history stays"`
	Version        int64                    `json:"version"`
	Verdict        *Verdict                 `json:"verdict,omitempty" doc:"Left out for a bed that has ended"`
}

// NewBed is a bed to be made.
type NewBed commands.BedInput

func (s *service) bedRoutes() {
	handle(s, op(http.MethodGet, "/v1/beds", "list-beds", "beds", "Standing beds with their verdicts"), s.listBeds)
	handle(s, op(http.MethodPost, "/v1/beds", "add-bed", "beds", "Make a bed"), s.addBed)
	handle(s, op(http.MethodGet, "/v1/beds/{id}", "get-bed", "beds", "One bed with its verdict"), s.getBed)
	handle(s, op(http.MethodPatch, "/v1/beds/{id}", "change-bed", "beds", "Change a bed: members given are changed, null empties"), s.changeBed)
	handle(s, op(http.MethodDelete, "/v1/beds/{id}", "clear-bed", "beds", "Clear a bed: it has ended, its history stays"), s.clearBed)
	handle(s, op(http.MethodGet, "/v1/beds/{id}/outlook", "bed-outlook", "beds", "Course of the forecast and of what the bed stands"), s.outlook)
	handle(s, op(http.MethodPost, "/v1/beds/{id}/what-if", "bed-what-if", "beds", "Judge the bed as it would be with another cover, mulch, or part of it harvested; changes nothing"), s.whatIf)
}

// bench is what the views of beds need besides the bed.
type bench struct {
	*service
	farm     farm.Farm
	zones    map[int64]*time.Location // by field
	verdicts map[int64]store.Verdict
}

func (s *service) benchOf(ctx context.Context, r store.Reader, b farm.Bed) (bench, error) {
	n := bench{service: s, zones: map[int64]*time.Location{}, verdicts: map[int64]store.Verdict{}}
	var err error
	if n.farm, err = r.Farm(ctx, b.FarmID); err != nil {
		return n, err
	}
	if err = n.locate(ctx, r, b); err != nil {
		return n, err
	}
	v, err := r.Verdict(ctx, b.ID)
	if errors.Is(err, store.ErrNotFound) {
		return n, nil
	}
	n.verdicts[b.ID] = v
	return n, err
}

func (n bench) bed(b farm.Bed) (Bed, error) {
	today := farm.DayOf(n.Commands.Now(), n.zones[b.FieldID])
	out := Bed{
		ID: b.ID, FieldID: b.FieldID, Name: b.Name, Crop: b.Crop, Variety: b.Variety, Purpose: b.Purpose,
		SownOn: b.SownOn, StandingKg: b.StandingKg, PricePerKg: b.PricePerKg, LiftKgPerHour: b.LiftKgPerHour,
		CostLoss: b.CostLoss(), Covers: full(b.Covers), MulchCm: b.MulchOn(today), ToleranceShift: b.ToleranceSet,
		QuietUntil: utc(b.QuietUntil), CreatedAt: b.CreatedAt.UTC(), ClearedAt: utc(b.ClearedAt), Version: b.Version,
	}
	if b.ClearedAt.Known() {
		return out, nil
	}
	verdict := n.verdict(b)
	out.Verdict = &verdict
	return out, nil
}

// locate finds the zone of a bed's field, once.
func (n bench) locate(ctx context.Context, r store.Reader, b farm.Bed) error {
	if n.zones[b.FieldID] != nil {
		return nil
	}
	f, err := r.Field(ctx, b.FarmID, b.FieldID)
	if err != nil {
		return err
	}
	at, err := store.PlaceOf(ctx, r, f)
	n.zones[b.FieldID] = at.Zone
	return err
}

// verdict of a bed as it may be believed now.
func (n bench) verdict(b farm.Bed) Verdict {
	return n.verdictView(n.verdicts[b.ID].Kept.At(n.Commands.Now(), n.farm), n.farm, n.zones[b.FieldID])
}

type listBeds struct {
	Paging
	FieldID int64 `query:"field_id" minimum:"0" doc:"Only beds of this field"`
	Cleared bool  `query:"cleared" doc:"Beds that have ended too"`
}

func (s *service) listBeds(ctx context.Context, farmID int64, in *listBeds) (*listed[Bed], error) {
	filter := store.BedFilter{Page: in.ask(), FieldID: in.FieldID, Cleared: in.Cleared}
	beds, err := s.Commands.Store.Beds(ctx, farmID, filter)
	if err != nil {
		return nil, err
	}
	n, err := s.wholeBench(ctx, farmID)
	if err != nil {
		return nil, err
	}
	var failed error
	query := ""
	if in.FieldID != 0 {
		query += fmt.Sprintf("field_id=%d&", in.FieldID)
	}
	if in.Cleared {
		query += "cleared=true&"
	}
	out := listOf(in.Paging, "/v1/beds", query, beds, func(b farm.Bed) int64 { return b.ID }, func(b farm.Bed) Bed {
		view, err := n.listedBed(ctx, b)
		failed = errors.Join(failed, err)
		return view
	})
	return out, failed
}

func (s *service) wholeBench(ctx context.Context, farmID int64) (bench, error) {
	n := bench{service: s, zones: map[int64]*time.Location{}}
	var err error
	if n.farm, err = s.Commands.Store.Farm(ctx, farmID); err != nil {
		return n, err
	}
	n.verdicts, err = s.Commands.Store.Verdicts(ctx, farmID)
	return n, err
}

func (n bench) listedBed(ctx context.Context, b farm.Bed) (Bed, error) {
	if err := n.locate(ctx, n.Commands.Store.Reader, b); err != nil {
		return Bed{}, err
	}
	view, err := n.bed(b)
	if view.Verdict != nil {
		brief := view.Verdict.brief()
		view.Verdict = &brief
	}
	return view, err
}

func (s *service) bedView(ctx context.Context, r store.Reader, b farm.Bed) (Bed, error) {
	n, err := s.benchOf(ctx, r, b)
	if err != nil {
		return Bed{}, err
	}
	return n.bed(b)
}

func (s *service) addBed(ctx context.Context, farmID int64, in *post[NewBed]) (*made[Bed], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/beds", in.Body}, func(d commands.Service) (made[Bed], error) {
		b, err := d.AddBed(ctx, farmID, commands.BedInput(in.Body))
		if err != nil {
			return made[Bed]{}, err
		}
		view, err := s.bedView(ctx, d.Books(), b)
		return created("/v1/beds", b.ID, b.Version, view), err
	})
}

func (s *service) getBed(ctx context.Context, farmID int64, in *ByID) (*one[Bed], error) {
	b, err := s.Commands.Store.Bed(ctx, farmID, in.ID)
	if err != nil {
		return nil, err
	}
	view, err := s.bedView(ctx, s.Commands.Store.Reader, b)
	return &one[Bed]{etag(b.Version), view}, err
}

func (s *service) changeBed(ctx context.Context, farmID int64, in *changeByID[commands.BedInput]) (out *one[Bed], err error) {
	err = change(in.IfMatch, func(seen commands.Seen) error {
		b, err := s.Commands.ChangeBed(ctx, farmID, in.ID, seen, in.Body)
		if err != nil {
			return err
		}
		view, err := s.bedView(ctx, s.Commands.Store.Reader, b)
		out = &one[Bed]{etag(b.Version), view}
		return err
	})
	return out, err
}

func (s *service) clearBed(ctx context.Context, farmID int64, in *removeByID) (*nothing, error) {
	return &nothing{}, change(in.IfMatch, func(seen commands.Seen) error {
		return s.Commands.ClearBed(ctx, farmID, in.ID, seen)
	})
}
