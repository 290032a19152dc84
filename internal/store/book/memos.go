package book

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"winterstand/internal/store/row"
)

type memo struct {
	kind, owner string
	body        json.RawMessage
	at          time.Time
}

var memos = row.Of("memo", "kind, owner", func(m *memo) []row.Column {
	return []row.Column{
		row.Text("kind", &m.kind).Fixed(),
		row.Text("owner", &m.owner).Fixed(),
		row.Document("body", &m.body),
		row.At("updated_at", &m.at),
	}
})

func (r reader) Memo(ctx context.Context, owner, kind string) (_ json.RawMessage, err error) {
	defer row.Wrap(&err, "memo %s of %s", kind, owner)
	m, err := one(ctx, r.q, memos, `WHERE kind = ?1 AND owner = ?2`, kind, owner)
	return m.body, err
}

func (r reader) Memos(ctx context.Context, kind string) (_ map[string]json.RawMessage, err error) {
	defer row.Wrap(&err, "memos %s", kind)
	list, err := many(ctx, r.q, memos, `WHERE kind = ?1`, kind)
	byOwner := make(map[string]json.RawMessage, len(list))
	for _, m := range list {
		byOwner[m.owner] = m.body
	}
	return byOwner, err
}

func (w writer) SetMemo(ctx context.Context, owner, kind string, body json.RawMessage, now time.Time) (err error) {
	defer row.Wrap(&err, "set memo %s of %s", kind, owner)
	if body == nil {
		return errors.New("body: missing; drop the memo instead")
	}
	vs, err := memos.Added(memo{kind, owner, body, now})
	if err != nil {
		return err
	}
	_, err = w.tx.Exec(ctx, memos.Insert(memos.Replace()), vs...)
	return err
}

func (w writer) DropMemo(ctx context.Context, owner, kind string) (err error) {
	defer row.Wrap(&err, "drop memo %s of %s", kind, owner)
	_, err = w.tx.Exec(ctx, `DELETE FROM memo WHERE kind = ?1 AND owner = ?2`, kind, owner)
	return err
}
