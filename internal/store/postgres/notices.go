package postgres

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	noticeValues = "farm_id, subject, field_id, bed_id, kind, night, revision, issued_at, " +
		"harvest_before, likelihood, forecast_id, facts"
	noticeColumns = "id, " + noticeValues + ", answer, answered_at"
	answerColumns = "farm_id, notice_id, bed_id, recipient_id, answer, harvested_kg, at"
)

func (r reader) Notice(ctx context.Context, farmID, id int64) (_ store.Notice, err error) {
	defer row.Wrap(&err, "notice %d", id)
	return one(ctx, r.q, row.ScanNotice,
		`SELECT `+noticeColumns+` FROM notice WHERE farm_id = $1 AND id = $2`, farmID, id)
}

func (r reader) Notices(ctx context.Context, farmID int64, f store.NoticeFilter) (_ []store.Notice, err error) {
	defer row.Wrap(&err, "notices of farm %d", farmID)
	c := noticeConditions(farmID, f)
	return many(ctx, r.q, row.ScanNotice, `SELECT `+noticeColumns+` FROM notice WHERE `+c.text()+
		` ORDER BY id DESC LIMIT `+c.mark(limit(f.Limit)), c.args...)
}

func noticeConditions(farmID int64, f store.NoticeFilter) *conditions {
	c := new(conditions)
	c.and("farm_id =", farmID)
	c.and("id <", before(f.After))
	if f.BedID != 0 {
		c.and("bed_id =", f.BedID)
	}
	if f.FieldID != 0 {
		c.and("field_id =", f.FieldID)
	}
	if f.Kind != "" {
		c.and("kind =", f.Kind)
	}
	if !f.From.IsZero() {
		c.and("issued_at >=", row.Instant(f.From))
	}
	if !f.To.IsZero() {
		c.and("issued_at <", row.Instant(f.To))
	}
	return c
}

func (w writer) AddNotice(ctx context.Context, n store.Notice) (_ int64, err error) {
	defer row.Wrap(&err, "add notice %s of %s", n.Kind, n.Subject)
	vs, err := row.NoticeValues(n)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "notice", noticeValues,
		"ON CONFLICT (farm_id, subject, night, kind, revision) DO NOTHING", vs)
}

func (r reader) Answers(ctx context.Context, farmID, noticeID int64) (_ []farm.Answer, err error) {
	defer row.Wrap(&err, "answers to notice %d", noticeID)
	return many(ctx, r.q, row.ScanAnswer,
		`SELECT id, `+answerColumns+` FROM answer WHERE farm_id = $1 AND notice_id = $2 ORDER BY id`, farmID, noticeID)
}

// AddAnswer also writes the answer on its notice, where it is the latest.
func (w writer) AddAnswer(ctx context.Context, a farm.Answer) (_ int64, err error) {
	defer row.Wrap(&err, "add answer to notice %d", a.NoticeID)
	vs, err := row.AnswerValues(a)
	if err != nil {
		return 0, err
	}
	id, err := w.insert(ctx, "answer", answerColumns, "", vs)
	if err != nil {
		return 0, err
	}
	_, err = w.exec(ctx, `UPDATE notice SET answer = $3, answered_at = $4
		WHERE farm_id = $1 AND id = $2 AND (answered_at IS NULL OR answered_at <= $4)`,
		a.FarmID, a.NoticeID, a.Answer, row.Instant(a.At))
	return id, err
}
