package sqlite

import (
	"context"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	messageValues = "farm_id, recipient_id, channel, key, test, state, attempts, last_error, " +
		"created_at, not_before, sent_at"
	messageColumns = "id, " + messageValues + ", (SELECT json_group_array(notice_id) FROM " +
		"(SELECT notice_id FROM message_notice WHERE message_id = message.id ORDER BY position))"
)

func (r reader) Message(ctx context.Context, id int64) (_ store.Message, err error) {
	defer row.Wrap(&err, "message %d", id)
	return one(ctx, r.q, row.ScanMessage, `SELECT `+messageColumns+` FROM message WHERE id = ?1`, id)
}

func (r reader) MessageByKey(ctx context.Context, key string) (_ store.Message, err error) {
	defer row.Wrap(&err, "message %s", key)
	return one(ctx, r.q, row.ScanMessage, `SELECT `+messageColumns+` FROM message WHERE key = ?1`, key)
}

func (r reader) Messages(ctx context.Context, farmID int64, p store.Page) (_ []store.Message, err error) {
	defer row.Wrap(&err, "messages of farm %d", farmID)
	return many(ctx, r.q, row.ScanMessage, `SELECT `+messageColumns+` FROM message
		WHERE farm_id = ?1 AND id < ?2 ORDER BY id DESC LIMIT ?3`, farmID, before(p.After), limit(p.Limit))
}

func (r reader) Overdue(ctx context.Context, t time.Time, most int) (_ []int64, err error) {
	defer row.Wrap(&err, "overdue messages")
	return many(ctx, r.q, scanID, `SELECT id FROM message
		WHERE state = ?1 AND not_before <= ?2 ORDER BY id LIMIT ?3`, store.Queued, row.Instant(t), limit(most))
}

func (w writer) AddMessage(ctx context.Context, m store.Message) (_ int64, err error) {
	defer row.Wrap(&err, "add message %s", m.Key)
	vs, err := row.MessageValues(m)
	if err != nil {
		return 0, err
	}
	id, err := w.insert(ctx, "message", messageValues, "ON CONFLICT (key) DO NOTHING", vs)
	if err != nil {
		return 0, err
	}
	carried := make([][]any, len(m.NoticeIDs))
	for i, notice := range m.NoticeIDs {
		carried[i] = []any{id, i, m.FarmID, notice}
	}
	return id, w.bulk(ctx, `INSERT INTO message_notice (message_id, position, farm_id, notice_id)`, "", carried)
}

func (w writer) MarkMessage(ctx context.Context, m store.Message) (err error) {
	defer row.Wrap(&err, "mark message %d", m.ID)
	vs, err := row.MarkValues(m)
	if err != nil {
		return err
	}
	return w.must(ctx, `UPDATE message SET (state, attempts, last_error, not_before, sent_at) = (?1, ?2, ?3, ?4, ?5)
		WHERE id = ?6`, append(vs, m.ID)...)
}
