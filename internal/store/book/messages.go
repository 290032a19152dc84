package book

import (
	"context"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// noticesOfMessage are their IDs in the order they are told, as a JSON list.
const noticesOfMessage = `(SELECT '[' || coalesce(string_agg(CAST(notice_id AS text), ',' ORDER BY position), '') || ']'
	FROM message_notice WHERE message_id = message.id)`

var messages = row.Of("message", "key", func(m *store.Message) []row.Column {
	return []row.Column{
		row.Whole("id", &m.ID).Given(),
		row.Whole("farm_id", &m.FarmID).Fixed(),
		row.Whole("recipient_id", &m.RecipientID).Fixed(),
		row.Text("channel", &m.Channel).Fixed(),
		row.Text("key", &m.Key).Fixed(),
		row.Truth("test", &m.Test).Fixed(),
		row.Text("state", &m.State),
		row.Whole("attempts", &m.Attempts),
		row.Foreign("last_error", &m.LastError),
		row.At("created_at", &m.CreatedAt).Fixed(),
		row.At("not_before", &m.NotBefore),
		row.MaybeAt("sent_at", &m.SentAt),
		row.Nested(noticesOfMessage, &m.NoticeIDs).Given(), // carry
	}
})

// carried is a notice that a message carries.
type carried struct{ message, position, farm, notice int64 }

var carriedNotices = row.Of("message_notice", "message_id, position", func(c *carried) []row.Column {
	return []row.Column{
		row.Whole("message_id", &c.message),
		row.Whole("position", &c.position),
		row.Whole("farm_id", &c.farm),
		row.Whole("notice_id", &c.notice),
	}
})

func (r reader) Message(ctx context.Context, id int64) (_ store.Message, err error) {
	defer row.Wrap(&err, "message %d", id)
	return one(ctx, r.q, messages, `WHERE id = ?1`, id)
}

func (r reader) MessageByKey(ctx context.Context, key string) (_ store.Message, err error) {
	defer row.Wrap(&err, "message %s", key)
	return one(ctx, r.q, messages, `WHERE key = ?1`, key)
}

func (r reader) Messages(ctx context.Context, farmID int64, p store.Page) (_ []store.Message, err error) {
	defer row.Wrap(&err, "messages of farm %d", farmID)
	return many(ctx, r.q, messages, `WHERE farm_id = ?1 AND id < ?2 ORDER BY id DESC LIMIT ?3`,
		farmID, before(p.After), limit(p.Limit))
}

func (r reader) Overdue(ctx context.Context, t time.Time, most int) (_ []int64, err error) {
	defer row.Wrap(&err, "overdue messages")
	return scalars[int64](ctx, r.q, `SELECT id FROM message WHERE state = ?1 AND not_before <= ?2 ORDER BY id LIMIT ?3`,
		store.Queued, row.Instant(t), limit(most))
}

func (w writer) AddMessage(ctx context.Context, m store.Message) (_ int64, err error) {
	defer row.Wrap(&err, "add message %s", m.Key)
	id, err := addNew(ctx, w, messages, m)
	if err != nil {
		return 0, err
	}
	return id, w.carry(ctx, id, m)
}

// carry notes which notices a message carries, in their order.
func (w writer) carry(ctx context.Context, id int64, m store.Message) error {
	list := make([]carried, len(m.NoticeIDs))
	for i, notice := range m.NoticeIDs {
		list[i] = carried{message: id, position: int64(i), farm: m.FarmID, notice: notice}
	}
	return bulk(ctx, w, carriedNotices, "", list, nil)
}

func (w writer) MarkMessage(ctx context.Context, m store.Message) (err error) {
	defer row.Wrap(&err, "mark message %d", m.ID)
	vs, err := messages.Changed(m)
	if err != nil {
		return err
	}
	return w.must(ctx, `UPDATE message SET `+messages.Set(1)+` WHERE id = ?1`, append([]any{m.ID}, vs...)...)
}
