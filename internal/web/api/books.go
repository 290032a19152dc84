package api

import (
	"bytes"
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"winterstand/internal/farm"
	"winterstand/internal/science/skill"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/storage/supply"
)

// Books computes what a farm's books add up to now. *NotYet: there is nothing
// to compute from.
type Books interface {
	// Plan is the best use of the coming crew hours and rooms.
	Plan(ctx context.Context, farmID int64) (plan.Plan, error)
	// Supply is what stands, is stored, is wanted and runs out, week by week;
	// lifted: with the lifting plan carried out.
	Supply(ctx context.Context, farmID int64, lifted bool) (plan.Supply, error)
	// Skill is how the verdicts of the farm did.
	Skill(ctx context.Context, farmID int64) (skill.Report, error)
	// Stores are the rooms with their lots and how long those keep.
	Stores(ctx context.Context, farmID int64) ([]plan.Room, error)
	// Season is what past winters did, as it was made last.
	Season(ctx context.Context, farmID int64) (plan.Season, error)
	// LookBack makes it of a weather file, on a field (0: the first).
	LookBack(ctx context.Context, farmID, fieldID int64, name string, file []byte) (plan.Season, error)
}

// PlanTeller writes a plan out in a farm's language, units and zone.
type PlanTeller func(p plan.Plan, f farm.Farm) string

// Plan is the lifting plan: which bed in which window, and where it goes.
type Plan struct {
	AsOf         time.Time          `json:"as_of"`
	Windows      []PlanWindow       `json:"windows"`
	Beds         []plan.PlannedBed  `json:"beds" doc:"Beds that are due, by deadline"`
	GivenUp      []lifting.GivenUp  `json:"given_up" doc:"What the plan leaves to the frost, and why"`
	Rooms        []lifting.RoomUse  `json:"rooms"`
	Stores       []plan.PlannedRoom `json:"stores" doc:"Rooms by name, with what was free"`
	SavedValue   float64            `json:"saved_value_at_risk" doc:"In the farm's currency, weighed with the likelihood of loss"`
	LostValue    float64            `json:"given_up_value_at_risk" doc:"The same of what is given up"`
	NeutralPrice float64            `json:"neutral_price_per_kg" doc:"Taken for beds without a price"`
	Unpriced     []int64            `json:"beds_at_neutral_price"`
	RoomsUnknown bool               `json:"no_rooms_given" doc:"No room is recorded: nothing limits what is stored"`
	CrewGiven    bool               `json:"crew_given" doc:"false: no crew hours are entered, one person is taken for every hour in which a bed can be harvested"`
	Left         []int64            `json:"beds_left_standing" doc:"Left out because a person answered leave_it"`
	Unseen       []int64            `json:"beds_not_judged" doc:"Left out because they cannot be judged now"`
	Exact        bool               `json:"is_optimal" doc:"false: a simpler rule was used"`
	Text         string             `json:"text" doc:"The same in plain lines, in the farm's language and units"`
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

func planView(r plan.Plan, text string) Plan {
	p := Plan{
		AsOf: r.AsOf.UTC(), Windows: []PlanWindow{}, Beds: full(r.Beds), GivenUp: full(r.GivenUp), Rooms: full(r.Rooms), Stores: full(r.Stores),
		SavedValue: r.SavedValue, LostValue: r.LostValue, NeutralPrice: r.NeutralPrice, Unpriced: full(r.Unpriced),
		RoomsUnknown: r.RoomsUnknown, CrewGiven: r.CrewGiven, Left: full(r.Left), Unseen: full(r.Unseen), Exact: r.Exact, Text: text,
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
	table := op(http.MethodGet, "/v1/supply.csv", "get-supply-csv", "books", "The weeks of the supply as CSV, weights in kg")
	table.Responses = map[string]*huma.Response{"200": {Description: "One line for each crop and week", Content: map[string]*huma.MediaType{
		"text/csv": {Schema: &huma.Schema{Type: huma.TypeString}}}}}
	handle(s, table, s.supplyTable)
	handle(s, op(http.MethodGet, "/v1/skill", "get-skill", "books", "How the service's own verdicts did"), s.skill)
}

func (s *service) plan(ctx context.Context, farmID int64, _ *struct{}) (*plain[Plan], error) {
	f, err := s.Commands.Store.Farm(ctx, farmID)
	if err != nil {
		return nil, err
	}
	p, err := s.Books.Plan(ctx, farmID)
	if err != nil {
		return nil, err
	}
	return &plain[Plan]{planView(p, s.TellPlan(p, f))}, nil
}

type askSupply struct {
	Lifted bool `query:"lifted" doc:"As it would be with the lifting plan carried out: what is lifted lies in the rooms of the plan"`
}

func (s *service) supply(ctx context.Context, farmID int64, in *askSupply) (*plain[plan.Supply], error) {
	r, err := s.Books.Supply(ctx, farmID, in.Lifted)
	return &plain[plan.Supply]{r}, err
}

type csvFile struct {
	ContentType string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Body        []byte
}

func (s *service) supplyTable(ctx context.Context, farmID int64, in *askSupply) (*csvFile, error) {
	r, err := s.Books.Supply(ctx, farmID, in.Lifted)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = supply.WriteCSV(&b, r.Result)
	return &csvFile{"text/csv; charset=utf-8", `attachment; filename="supply.csv"`, b.Bytes()}, err
}

func (s *service) skill(ctx context.Context, farmID int64, _ *struct{}) (*plain[skill.Report], error) {
	r, err := s.Books.Skill(ctx, farmID)
	return &plain[skill.Report]{r}, err
}
