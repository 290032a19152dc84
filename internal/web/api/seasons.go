package api

import (
	"context"
	"errors"
	"net/http"
	"time"

	"winterstand/internal/science/season"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Season is what past winters did to the crops of the farm.
type Season struct {
	MadeAt  unit.Maybe[time.Time] `json:"made_at" doc:"null: no history has been given yet"`
	File    string                `json:"file,omitempty"`
	FieldID int64                 `json:"field_id,omitempty" doc:"Whose place and soil it was played on"`
	Crops   []string              `json:"crops"`
	First   int                   `json:"first_winter,omitempty" doc:"Year of its 1 August"`
	Last    int                   `json:"last_winter,omitempty"`
	LeftOut int                   `json:"winters_left_out" doc:"Older ones, beyond the bound"`
	Filled  int                   `json:"days_filled" doc:"Days without a maximum, for which what is usual stands in"`
	Rows    []season.Row          `json:"rows" doc:"By crop and cover, the crop that had to be out first first"`
	Winters []season.Counted      `json:"winters"`
}

func seasonView(s plan.Season) Season {
	return Season{MadeAt: known(s.Made), File: s.File, FieldID: s.FieldID, Crops: full(s.Crops), First: s.From, Last: s.To,
		LeftOut: s.LeftOut, Filled: s.Filled, Rows: full(s.Rows), Winters: full(s.Winters)}
}

func (s *service) seasonRoutes() {
	handle(s, op(http.MethodGet, "/v1/season", "get-season", "books", "From past winters: by which day each crop had to be out"), s.season)
	o := op(http.MethodPost, "/v1/season", "make-season", "books", "Play the winters of a weather history for the farm's crops")
	o.Description = "A daily or hourly weather file (date, tmin_c, tmax_c, …) or a GHCN-Daily file, not compressed. At most the newest 60 winters are played. It replaces the outlook that was made before, and the supply counts with it beyond the forecast."
	o.MaxBodyBytes, o.BodyReadTimeout = maxImport, importTimeout
	handle(s, o, s.makeSeason)
}

func (s *service) season(ctx context.Context, farmID int64, _ *struct{}) (*plain[Season], error) {
	out, err := s.Books.Season(ctx, farmID)
	return &plain[Season]{seasonView(out)}, err
}

type historyFile struct {
	OnceKey
	FieldID     int64  `query:"field_id" minimum:"0" doc:"Whose place and soil; left out: the first field"`
	Name        string `query:"name" maxLength:"80" doc:"What the file is called, to be shown"`
	ContentType string `header:"Content-Type" doc:"text/csv"`
	RawBody     []byte `contentType:"text/csv"`
}

// lookTimeout bounds one look back. Own default.
const lookTimeout = 2 * time.Minute

func (s *service) makeSeason(ctx context.Context, farmID int64, in *historyFile) (*made[Season], error) {
	if err := plainFile(in.ContentType); err != nil {
		return nil, err
	}
	if in.Name == "" {
		in.Name = "history.csv"
	}
	limited, cancel := context.WithTimeout(ctx, lookTimeout)
	defer cancel()
	out, err := s.Books.LookBack(limited, farmID, in.FieldID, in.Name, in.RawBody)
	if err != nil {
		return nil, wrongHistory(err)
	}
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/season", in.FieldID, in.RawBody}, func(d commands.Service) (made[Season], error) {
		err := d.Write(ctx, func(w store.Writer) error { return out.Keep(ctx, w, farmID) })
		return made[Season]{Status: http.StatusCreated, Body: seasonView(out)}, err
	})
}

func wrongHistory(err error) error {
	var bad *plan.BadHistory
	switch {
	case errors.As(err, &bad):
		return faulty(http.StatusUnprocessableEntity, FieldError{Field: "body", Reason: bad.Why.String()})
	case errors.Is(err, plan.ErrNoCrops):
		return &NotYet{because("no_crops").String()}
	case errors.Is(err, context.DeadlineExceeded):
		return problem(http.StatusServiceUnavailable, because("too_long"))
	}
	return err
}
