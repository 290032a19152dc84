package postgres

import (
	"context"
	"encoding/json"
	"time"

	"winterstand/internal/store/row"
)

func (r reader) Memo(ctx context.Context, owner, kind string) (_ json.RawMessage, err error) {
	defer row.Wrap(&err, "memo %s of %s", kind, owner)
	m, err := one(ctx, r.q, row.ScanMemo, `SELECT owner, body FROM memo WHERE kind = $1 AND owner = $2`, kind, owner)
	return m.Body, err
}

func (r reader) Memos(ctx context.Context, kind string) (_ map[string]json.RawMessage, err error) {
	defer row.Wrap(&err, "memos %s", kind)
	list, err := many(ctx, r.q, row.ScanMemo, `SELECT owner, body FROM memo WHERE kind = $1`, kind)
	byOwner := make(map[string]json.RawMessage, len(list))
	for _, m := range list {
		byOwner[m.Owner] = m.Body
	}
	return byOwner, err
}

func (w writer) SetMemo(ctx context.Context, owner, kind string, body json.RawMessage, now time.Time) (err error) {
	defer row.Wrap(&err, "set memo %s of %s", kind, owner)
	vs, err := row.MemoValues(owner, kind, body, now)
	if err != nil {
		return err
	}
	_, err = w.exec(ctx, `INSERT INTO memo (kind, owner, body, updated_at) VALUES ($1, $2, $3, $4)
		ON CONFLICT (kind, owner) DO UPDATE SET (body, updated_at) = (excluded.body, excluded.updated_at)`, vs...)
	return err
}

func (w writer) DropMemo(ctx context.Context, owner, kind string) (err error) {
	defer row.Wrap(&err, "drop memo %s of %s", kind, owner)
	_, err = w.exec(ctx, `DELETE FROM memo WHERE kind = $1 AND owner = $2`, kind, owner)
	return err
}
