package api

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// Reading is what a thermometer or a ruler said.
type Reading struct {
	ID       int64               `json:"id"`
	FieldID  int64               `json:"field_id"`
	At       time.Time           `json:"at"`
	Quantity string              `json:"quantity"`
	DepthCm  unit.Maybe[float64] `json:"depth_cm,omitzero" doc:"cm below the ground"`
	Value    float64             `json:"value" doc:"In the unit of the quantity's name"`
}

func readingView(r farm.Reading) Reading {
	return Reading{ID: r.ID, FieldID: r.FieldID, At: r.At.UTC(), Quantity: r.Quantity, DepthCm: r.DepthCm, Value: r.Value}
}

// NewReading is a reading to be entered.
type NewReading commands.ReadingInput

// NewReadings are many at once, all or none.
type NewReadings struct {
	Readings []NewReading `json:"readings" maxItems:"5000" doc:"Up to 5000 readings"`
}

// NewFinding is a finding to be entered.
type NewFinding commands.FindingInput

// Finding is what the grower saw after a freeze.
type Finding struct {
	ID           int64     `json:"id"`
	BedID        int64     `json:"bed_id"`
	Night        farm.Day  `json:"night"`
	LostFraction float64   `json:"lost_fraction"`
	Note         string    `json:"note,omitempty"`
	CreatedAt    time.Time `json:"created_at"`
}

func findingView(f farm.Finding) Finding {
	return Finding{ID: f.ID, BedID: f.BedID, Night: f.Night, LostFraction: f.LostFraction, Note: f.Note, CreatedAt: f.CreatedAt.UTC()}
}

func (s *service) readingRoutes() {
	handle(s, op(http.MethodGet, "/v1/readings", "list-readings", "readings", "Readings of a field in order of time"), s.listReadings)
	handle(s, op(http.MethodPost, "/v1/readings", "add-reading", "readings", "Enter a reading"), s.addReading)
	bulk := op(http.MethodPost, "/v1/readings/bulk", "add-readings", "readings", "Enter many readings, all or none")
	handle(s, bulk, s.addReadings)
	handle(s, op(http.MethodGet, "/v1/findings", "list-findings", "findings", "What was seen after freezes"), s.listFindings)
	handle(s, op(http.MethodPost, "/v1/findings", "add-finding", "findings", "Tell what was seen after a freeze"), s.addFinding)
}

// listReadings is a cursor in time: the next page begins where this one ended.
type listReadings struct {
	FieldID int64     `query:"field_id" required:"true" minimum:"1" doc:"The field"`
	From    time.Time `query:"from" doc:"Read at or after, RFC 3339; left out: 30 days back"`
	To      time.Time `query:"to" doc:"Read before, RFC 3339; left out: now"`
	Limit   int       `query:"limit" minimum:"1" maximum:"5000" default:"1000" doc:"Readings on a page; those of one instant are never torn apart"`
}

func (s *service) listReadings(ctx context.Context, farmID int64, in *listReadings) (*listed[Reading], error) {
	if _, err := s.Commands.Store.Field(ctx, farmID, in.FieldID); err != nil {
		return nil, err
	}
	if in.To.IsZero() {
		in.To = s.Commands.Now().Add(2 * time.Hour)
	}
	if in.From.IsZero() {
		in.From = in.To.AddDate(0, 0, -30)
	}
	rs, err := s.Commands.Store.Readings(ctx, farmID, in.FieldID, in.From, in.To)
	if err != nil {
		return nil, err
	}
	return in.page(rs), nil
}

func (in listReadings) page(rs []farm.Reading) *listed[Reading] {
	out := &listed[Reading]{Body: List[Reading]{Items: []Reading{}}}
	for i, r := range rs {
		if i >= in.Limit && !r.At.Equal(rs[i-1].At) {
			q := url.Values{"field_id": {fmt.Sprint(in.FieldID)}, "from": {r.At.UTC().Format(time.RFC3339)},
				"to": {in.To.UTC().Format(time.RFC3339)}, "limit": {fmt.Sprint(in.Limit)}}
			out.Body.Next = "/v1/readings?" + q.Encode()
			out.Link = fmt.Sprintf(`<%s>; rel="next"`, out.Body.Next)
			break
		}
		out.Body.Items = append(out.Body.Items, readingView(r))
	}
	return out
}

func (s *service) addReading(ctx context.Context, farmID int64, in *post[NewReading]) (*made[Reading], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/readings", in.Body}, func(d commands.Service) (made[Reading], error) {
		rs, err := d.AddReadings(ctx, farmID, []commands.ReadingInput{commands.ReadingInput(in.Body)})
		if err != nil {
			return made[Reading]{}, err
		}
		return made[Reading]{Status: http.StatusCreated, Body: readingView(rs[0])}, nil
	})
}

func (s *service) addReadings(ctx context.Context, farmID int64, in *post[NewReadings]) (*made[List[Reading]], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/readings/bulk", in.Body}, func(d commands.Service) (made[List[Reading]], error) {
		inputs := make([]commands.ReadingInput, len(in.Body.Readings))
		for i, r := range in.Body.Readings {
			inputs[i] = commands.ReadingInput(r)
		}
		rs, err := d.AddReadings(ctx, farmID, inputs)
		out := made[List[Reading]]{Status: http.StatusCreated}
		for _, r := range rs {
			out.Body.Items = append(out.Body.Items, readingView(r))
		}
		return out, err
	})
}

type listFindings struct {
	Paging
	BedID int64 `query:"bed_id" minimum:"0" doc:"Only of this bed"`
}

func (s *service) listFindings(ctx context.Context, farmID int64, in *listFindings) (*listed[Finding], error) {
	all, err := s.Commands.Store.Findings(ctx, farmID, in.BedID)
	if err != nil {
		return nil, err
	}
	later := all[:0:0]
	for _, f := range all {
		if f.ID > in.After && len(later) <= in.Limit {
			later = append(later, f)
		}
	}
	query := ""
	if in.BedID != 0 {
		query = fmt.Sprintf("bed_id=%d&", in.BedID)
	}
	return listOf(in.Paging, "/v1/findings", query, later, func(f farm.Finding) int64 { return f.ID }, findingView), nil
}

func (s *service) addFinding(ctx context.Context, farmID int64, in *post[NewFinding]) (*made[Finding], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/findings", in.Body}, func(d commands.Service) (made[Finding], error) {
		f, err := d.AddFinding(ctx, farmID, commands.FindingInput(in.Body))
		return made[Finding]{Status: http.StatusCreated, Body: findingView(f)}, err
	})
}
