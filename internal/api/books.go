package api

import (
	"context"
	"net/http"
	"time"

	"winterstand/internal/lifting"
	"winterstand/internal/skill"
	"winterstand/internal/supply"
)

// Books computes what a farm's books add up to now. *NotYet: there is nothing
// to compute from.
type Books interface {
	// Plan is the best use of the coming crew hours and rooms.
	Plan(ctx context.Context, farmID int64) (lifting.Result, error)
	// Supply is what stands, is stored, is wanted and runs out, week by week.
	Supply(ctx context.Context, farmID int64) (supply.Result, error)
	// Skill is how the verdicts of the farm did.
	Skill(ctx context.Context, farmID int64) (skill.Report, error)
}

// Plan is the lifting plan: which bed in which window, and where it goes.
type Plan struct {
	Windows      []PlanWindow      `json:"windows"`
	GivenUp      []lifting.GivenUp `json:"given_up" doc:"What the plan leaves to the frost, and why"`
	Rooms        []lifting.RoomUse `json:"rooms"`
	SavedValue   float64           `json:"saved_value_at_risk" doc:"In the farm's currency, weighed with the likelihood of loss"`
	LostValue    float64           `json:"given_up_value_at_risk" doc:"The same of what is given up"`
	NeutralPrice float64           `json:"neutral_price_per_kg" doc:"Taken for beds without a price"`
	Unpriced     []int64           `json:"beds_at_neutral_price"`
	RoomsUnknown bool              `json:"no_rooms_given" doc:"No room is recorded: nothing limits what is stored"`
	Exact        bool              `json:"is_optimal" doc:"false: a simpler rule was used"`
}

// PlanWindow is what is done in one stretch of crew time, in order.
type PlanWindow struct {
	Start           time.Time      `json:"start"`
	End             time.Time      `json:"end"`
	People          float64        `json:"people"`
	Lifts           []lifting.Lift `json:"lifts"`
	FreePersonHours float64        `json:"free_person_hours"`
	HourSaves       lifting.Saving `json:"one_more_hour_saves"`
}

func planView(r lifting.Result) Plan {
	p := Plan{
		Windows: []PlanWindow{}, GivenUp: full(r.GivenUp), Rooms: full(r.Rooms), SavedValue: r.SavedValue, LostValue: r.LostValue,
		NeutralPrice: r.NeutralPrice, Unpriced: full(r.Unpriced), RoomsUnknown: r.RoomsUnknown, Exact: r.Exact,
	}
	for _, t := range r.Turns {
		p.Windows = append(p.Windows, PlanWindow{
			Start: t.Start.UTC(), End: t.End.UTC(), People: t.People, Lifts: full(t.Lifts),
			FreePersonHours: t.FreePersonHours, HourSaves: t.HourSaves,
		})
	}
	return p
}

func (s *service) bookRoutes() {
	handle(s, op(http.MethodGet, "/v1/plan", "get-plan", "books", "Which bed to take in which window, with the hours and the room there are"), s.plan)
	handle(s, op(http.MethodGet, "/v1/supply", "get-supply", "books", "Week by week: what stands, what is stored, what is wanted, when it runs out"), s.supply)
	handle(s, op(http.MethodGet, "/v1/skill", "get-skill", "books", "How the service's own verdicts did"), s.skill)
}

func (s *service) plan(ctx context.Context, farmID int64, _ *struct{}) (*plain[Plan], error) {
	r, err := s.Books.Plan(ctx, farmID)
	return &plain[Plan]{planView(r)}, err
}

func (s *service) supply(ctx context.Context, farmID int64, _ *struct{}) (*plain[supply.Result], error) {
	r, err := s.Books.Supply(ctx, farmID)
	return &plain[supply.Result]{r}, err
}

func (s *service) skill(ctx context.Context, farmID int64, _ *struct{}) (*plain[skill.Report], error) {
	r, err := s.Books.Skill(ctx, farmID)
	return &plain[skill.Report]{r}, err
}
