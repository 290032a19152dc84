package api

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Notice is one thing that was told.
type Notice struct {
	ID            int64                 `json:"id"`
	Kind          string                `json:"kind"`
	Subject       string                `json:"subject" doc:"What it is about, like bed:7 or field:3"`
	FieldID       int64                 `json:"field_id,omitempty"`
	BedID         int64                 `json:"bed_id,omitempty"`
	Night         farm.Day              `json:"night,omitempty" doc:"The night it speaks of, named by its evening; of an event without one, the day it began"`
	Revision      int                   `json:"revision" doc:"0 for the first of its kind and night"`
	IssuedAt      time.Time             `json:"issued_at"`
	HarvestBefore unit.Maybe[time.Time] `json:"harvest_before,omitzero"`
	Likelihood    unit.Maybe[float64]   `json:"likelihood,omitzero"`
	Reason        string                `json:"reason" doc:"What it said, in the farm's language and units"`
	Answer        string                `json:"answer,omitempty" doc:"The latest answer"`
	AnsweredAt    unit.Maybe[time.Time] `json:"answered_at,omitzero"`
	Facts         json.RawMessage       `json:"facts,omitempty" doc:"All that it was decided on: forecast, tolerance, settings. In a list left out"`
}

func (s *service) noticeView(n store.Notice, f farm.Farm) (Notice, error) {
	var facts notice.Facts
	if err := json.Unmarshal(n.Facts, &facts); err != nil {
		return Notice{}, fmt.Errorf("read facts of notice %d: %w", n.ID, err)
	}
	return Notice{
		ID: n.ID, Kind: n.Kind, Subject: n.Subject, FieldID: n.FieldID, BedID: n.BedID, Night: n.Night, Revision: n.Revision,
		IssuedAt: n.IssuedAt.UTC(), HarvestBefore: utc(n.HarvestBefore), Likelihood: n.Likelihood,
		Reason: s.Tell(facts, f), Answer: n.Answer, AnsweredAt: utc(n.AnsweredAt), Facts: n.Facts,
	}, nil
}

func (s *service) noticeRoutes() {
	handle(s, op(http.MethodGet, "/v1/notices", "list-notices", "notices", "What was told, newest first"), s.listNotices)
	handle(s, op(http.MethodGet, "/v1/notices/{id}", "get-notice", "notices", "One notice with all it was decided on"), s.getNotice)
	handle(s, op(http.MethodGet, "/v1/notices/{id}/answers", "list-answers", "notices", "Answers to a notice"), s.listAnswers)
	handle(s, op(http.MethodPost, "/v1/notices/{id}/answers", "answer-notice", "notices", "Answer a notice"), s.answerNotice)
}

type listNotices struct {
	Paging
	BedID   int64     `query:"bed_id" minimum:"0" doc:"Only of this bed"`
	FieldID int64     `query:"field_id" minimum:"0" doc:"Only of this field"`
	Kind    string    `query:"kind" enum:"harvest-before,moved,last-call,stand-down,inspect,blind,sight-again,use-by,room-full,undelivered,still-watching" doc:"Only of this kind"`
	From    time.Time `query:"from" doc:"Issued at or after, RFC 3339"`
	To      time.Time `query:"to" doc:"Issued before, RFC 3339"`
}

// query repeats the filters for the next page.
func (in listNotices) query() string {
	v := url.Values{}
	if in.BedID != 0 {
		v.Set("bed_id", fmt.Sprint(in.BedID))
	}
	if in.FieldID != 0 {
		v.Set("field_id", fmt.Sprint(in.FieldID))
	}
	if in.Kind != "" {
		v.Set("kind", in.Kind)
	}
	if !in.From.IsZero() {
		v.Set("from", in.From.Format(time.RFC3339))
	}
	if !in.To.IsZero() {
		v.Set("to", in.To.Format(time.RFC3339))
	}
	if len(v) == 0 {
		return ""
	}
	return v.Encode() + "&"
}

func (s *service) listNotices(ctx context.Context, farmID int64, in *listNotices) (*listed[Notice], error) {
	f, err := s.Commands.Store.Farm(ctx, farmID)
	if err != nil {
		return nil, err
	}
	notices, err := s.Commands.Store.Notices(ctx, farmID, store.NoticeFilter{
		Page: in.ask(), BedID: in.BedID, FieldID: in.FieldID, Kind: in.Kind, From: in.From, To: in.To,
	})
	if err != nil {
		return nil, err
	}
	var failed error
	out := listOf(in.Paging, "/v1/notices", in.query(), notices, func(n store.Notice) int64 { return n.ID }, func(n store.Notice) Notice {
		view, err := s.noticeView(n, f)
		if err != nil {
			failed = err
		}
		view.Facts = nil
		return view
	})
	return out, failed
}

func (s *service) getNotice(ctx context.Context, farmID int64, in *ByID) (*plain[Notice], error) {
	n, err := s.Commands.Store.Notice(ctx, farmID, in.ID)
	if err != nil {
		return nil, err
	}
	f, err := s.Commands.Store.Farm(ctx, farmID)
	if err != nil {
		return nil, err
	}
	view, err := s.noticeView(n, f)
	return &plain[Notice]{view}, err
}

// Answer is what was said about a notice.
type Answer struct {
	ID          int64               `json:"id"`
	NoticeID    int64               `json:"notice_id"`
	BedID       int64               `json:"bed_id,omitempty"`
	RecipientID int64               `json:"recipient_id,omitempty" doc:"Left out: answered by a program or on the pages"`
	Answer      string              `json:"answer"`
	HarvestedKg unit.Maybe[float64] `json:"harvested_kg,omitzero"`
	At          time.Time           `json:"at"`
	Lot         *Lot                `json:"lot,omitempty" doc:"The lot that was made of the harvest"`
	StandingKg  unit.Maybe[float64] `json:"standing_kg,omitzero" doc:"Left in the ground after it, kg"`
	Cleared     bool                `json:"cleared,omitempty" doc:"The bed has ended with it"`
	Repeat      bool                `json:"repeat,omitempty" doc:"The same had been answered before: nothing was changed"`
}

func answerView(a farm.Answer) Answer {
	return Answer{ID: a.ID, NoticeID: a.NoticeID, BedID: a.BedID, RecipientID: a.RecipientID, Answer: a.Answer,
		HarvestedKg: a.HarvestedKg, At: a.At.UTC()}
}

func answeredView(d commands.Answered) Answer {
	out := answerView(d.Answer)
	out.Repeat = d.Repeat
	if l, ok := d.Lot.Get(); ok {
		v := lotView(l)
		out.Lot = &v
	}
	if b, ok := d.Bed.Get(); ok {
		out.StandingKg, out.Cleared = b.StandingKg, b.ClearedAt.Known()
	}
	return out
}

func (s *service) listAnswers(ctx context.Context, farmID int64, in *ByID) (*plain[List[Answer]], error) {
	if _, err := s.Commands.Store.Notice(ctx, farmID, in.ID); err != nil {
		return nil, err
	}
	answers, err := s.Commands.Store.Answers(ctx, farmID, in.ID)
	out := List[Answer]{Items: []Answer{}}
	for _, a := range answers {
		out.Items = append(out.Items, answerView(a))
	}
	return &plain[List[Answer]]{out}, err
}

func (s *service) answerNotice(ctx context.Context, farmID int64, in *postByID[commands.AnswerInput]) (*made[Answer], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/notices/answers", in.ID, in.Body}, func(d commands.Service) (made[Answer], error) {
		done, err := d.Answer(ctx, farmID, in.ID, 0, in.Body)
		return made[Answer]{Status: http.StatusCreated, Body: answeredView(done)}, err
	})
}
