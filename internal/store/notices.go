package store

import (
	"context"
	"encoding/json"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// NoticeReader finds what was told, and what was answered.
type NoticeReader interface {
	Notice(ctx context.Context, farmID, id int64) (Notice, error)
	Notices(ctx context.Context, farmID int64, f NoticeFilter) ([]Notice, error) // newest first
	Answers(ctx context.Context, farmID, noticeID int64) ([]farm.Answer, error)
}

// NoticeWriter adds to it.
type NoticeWriter interface {
	// AddNotice writes a notice once per (farm, subject, night, kind, revision):
	// a second one is ErrExists and leaves the transaction usable.
	AddNotice(ctx context.Context, n Notice) (int64, error)
	AddAnswer(ctx context.Context, a farm.Answer) (int64, error)
}

// NoticeFilter narrows Notices.
type NoticeFilter struct {
	Page
	BedID   int64
	FieldID int64
	Kind    string
	From    time.Time // zero: no limit
	To      time.Time
}

// Notice is one message about a bed, field, lot, room or recipient; kept for ever.
type Notice struct {
	ID            int64
	FarmID        int64
	Subject       string // "bed:7", "field:3", "lot:2", "room:1", "recipient:5", "farm:1"
	FieldID       int64  // 0: none
	BedID         int64
	Kind          string
	Night         farm.Day // of an event without a night: the day it began
	Revision      int
	IssuedAt      time.Time
	HarvestBefore unit.Maybe[time.Time]
	Likelihood    unit.Maybe[float64]
	ForecastID    int64
	Facts         json.RawMessage // notice.Facts: all that the words need and what it was decided on
	Answer        string          // the latest answer; empty: none
	AnsweredAt    unit.Maybe[time.Time]
}
