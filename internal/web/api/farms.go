package api

import (
	"context"
	"net/http"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Farm is the account.
type Farm struct {
	ID             int64        `json:"id"`
	Name           string       `json:"name"`
	Units          unit.System  `json:"units" doc:"Units that people of the farm see"`
	Language       string       `json:"language"`
	TimeZone       string       `json:"time_zone" doc:"IANA time zone of lists and letters; where none was set, that of the first field"`
	Currency       string       `json:"currency" doc:"ISO 4217"`
	NoticeLeadH    float64      `json:"notice_lead_h" doc:"Hours"`
	MovedStepH     float64      `json:"moved_step_h" doc:"Hours"`
	BlindAfterH    float64      `json:"blind_after_h" doc:"Hours"`
	WindChillLimit unit.Celsius `json:"wind_chill_limit_c" doc:"°C"`
	StillWatching  bool         `json:"still_watching"`
	Crew           []farm.Shift `json:"crew"`
	Wanted         []farm.Want  `json:"wanted"`
	CalendarPath   string       `json:"calendar_path" doc:"Address of the farm's calendar below the service's own; whoever has it can read it"`
	Version        int64        `json:"version"`
}

func farmView(f farm.Farm, zone *time.Location) Farm {
	return Farm{
		ID: f.ID, Name: f.Name, Units: f.Units, Language: f.Language, TimeZone: zone.String(), Currency: f.Currency,
		NoticeLeadH: f.NoticeLead.Hours(), MovedStepH: f.MovedStep.Hours(), BlindAfterH: f.BlindAfter.Hours(),
		WindChillLimit: f.WindChillLimit, StillWatching: f.StillWatching, Crew: full(f.Crew), Wanted: full(f.Wanted),
		CalendarPath: "/calendar/" + f.CalendarSecret + ".ics", Version: f.Version,
	}
}

// full is a list that is [] in JSON when it is empty.
func full[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

type changeFarm struct {
	IfMatch
	Body commands.FarmInput
}

func (s *service) farmRoutes() {
	handle(s, op(http.MethodGet, "/v1/farm", "get-farm", "farm", "The farm of the token"), s.getFarm)
	handle(s, op(http.MethodPatch, "/v1/farm", "change-farm", "farm", "Change the farm: members given are changed, others stay"), s.changeFarm)
}

func (s *service) getFarm(ctx context.Context, farmID int64, _ *struct{}) (*one[Farm], error) {
	f, err := s.Commands.Store.Farm(ctx, farmID)
	if err != nil {
		return nil, err
	}
	return s.farmAnswer(ctx, f)
}

func (s *service) changeFarm(ctx context.Context, farmID int64, in *changeFarm) (out *one[Farm], err error) {
	err = change(in.IfMatch, func(seen commands.Seen) error {
		f, err := s.Commands.ChangeFarm(ctx, farmID, seen, in.Body)
		if err != nil {
			return err
		}
		out, err = s.farmAnswer(ctx, f)
		return err
	})
	return out, err
}

func (s *service) farmAnswer(ctx context.Context, f farm.Farm) (*one[Farm], error) {
	zone, err := store.ZoneOf(ctx, s.Commands.Store, f)
	if err != nil {
		return nil, err
	}
	return &one[Farm]{etag(f.Version), farmView(f, zone)}, nil
}
