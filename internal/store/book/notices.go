package book

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var notices = row.Of("notice", "farm_id, subject, night, kind, revision", func(n *store.Notice) []row.Column {
	return []row.Column{
		row.Whole("id", &n.ID).Given(),
		row.Whole("farm_id", &n.FarmID),
		row.Text("subject", &n.Subject),
		row.Ref("field_id", &n.FieldID),
		row.Ref("bed_id", &n.BedID),
		row.Text("kind", &n.Kind),
		row.Text("night", &n.Night),
		row.Whole("revision", &n.Revision),
		row.At("issued_at", &n.IssuedAt),
		row.MaybeAt("harvest_before", &n.HarvestBefore),
		row.MaybeNumber("likelihood", &n.Likelihood),
		row.Ref("forecast_id", &n.ForecastID),
		row.Document("facts", &n.Facts),
		row.Text("answer", &n.Answer).Given(), // AddAnswer
		row.MaybeAt("answered_at", &n.AnsweredAt).Given(),
	}
})

var answers = row.Of("answer", "id", func(a *farm.Answer) []row.Column {
	return []row.Column{
		row.Whole("id", &a.ID).Given(),
		row.Whole("farm_id", &a.FarmID),
		row.Whole("notice_id", &a.NoticeID),
		row.Ref("bed_id", &a.BedID),
		row.Ref("recipient_id", &a.RecipientID),
		row.Text("answer", &a.Answer),
		row.MaybeNumber("harvested_kg", &a.HarvestedKg),
		row.At("at", &a.At),
	}
})

func (r reader) Notice(ctx context.Context, farmID, id int64) (_ store.Notice, err error) {
	defer row.Wrap(&err, "notice %d", id)
	return one(ctx, r.q, notices, ofFarm, farmID, id)
}

func (r reader) Notices(ctx context.Context, farmID int64, f store.NoticeFilter) (_ []store.Notice, err error) {
	defer row.Wrap(&err, "notices of farm %d", farmID)
	c := noticeConditions(farmID, f)
	return many(ctx, r.q, notices, c.text()+` ORDER BY id DESC LIMIT `+c.mark(limit(f.Limit)), c.args...)
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
	return addNew(ctx, w, notices, n)
}

func (r reader) Answers(ctx context.Context, farmID, noticeID int64) (_ []farm.Answer, err error) {
	defer row.Wrap(&err, "answers to notice %d", noticeID)
	return many(ctx, r.q, answers, `WHERE farm_id = ?1 AND notice_id = ?2 ORDER BY id`, farmID, noticeID)
}

// AddAnswer also writes the answer on its notice, where it is the latest.
func (w writer) AddAnswer(ctx context.Context, a farm.Answer) (_ int64, err error) {
	defer row.Wrap(&err, "add answer to notice %d", a.NoticeID)
	id, err := add(ctx, w, answers, a)
	if err != nil {
		return 0, err
	}
	_, err = w.tx.Exec(ctx, `UPDATE notice SET answer = ?2, answered_at = ?3
		WHERE id = ?1 AND (answered_at IS NULL OR answered_at <= ?3)`,
		a.NoticeID, a.Answer, row.Instant(a.At))
	return id, err
}
