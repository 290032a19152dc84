package book

import (
	"context"
	"crypto/rand"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var replies = row.Of("reply", "farm_id, key", func(r *store.Reply) []row.Column {
	return []row.Column{
		row.Whole("farm_id", &r.FarmID),
		row.Text("key", &r.Key),
		row.Text("request_hash", &r.RequestHash),
		row.Whole("status", &r.Status),
		row.Nested("header", &r.Header),
		row.Bytes("body", &r.Body),
		row.At("until", &r.Until),
	}
})

var sessions = row.Of("session", "hash", func(s *store.Session) []row.Column {
	return []row.Column{
		row.Text("hash", &s.Hash),
		row.Whole("farm_id", &s.FarmID),
		row.Ref("recipient_id", &s.RecipientID),
		row.Text("scope", &s.Scope),
		row.Text("csrf", &s.CSRF),
		row.At("until", &s.Until),
	}
})

func (r reader) Reply(ctx context.Context, farmID int64, key string) (_ store.Reply, err error) {
	defer row.Wrap(&err, "reply to %q", key)
	return one(ctx, r.q, replies, `WHERE farm_id = ?1 AND key = ?2`, farmID, key)
}

// Remember is ErrExists where a reply to the key stands already.
func (w writer) Remember(ctx context.Context, r store.Reply) (err error) {
	defer row.Wrap(&err, "remember reply to %q", r.Key)
	return addOnce(ctx, w, replies, r)
}

func (r reader) Session(ctx context.Context, hash string) (_ store.Session, err error) {
	defer row.Wrap(&err, "session")
	return one(ctx, r.q, sessions, `WHERE hash = ?1`, hash)
}

func (w writer) AddSession(ctx context.Context, s store.Session) (err error) {
	defer row.Wrap(&err, "add session of farm %d", s.FarmID)
	return addOnce(ctx, w, sessions, s)
}

func (w writer) DropSession(ctx context.Context, hash string) (err error) {
	defer row.Wrap(&err, "drop session")
	_, err = w.tx.Exec(ctx, `DELETE FROM session WHERE hash = ?1`, hash)
	return err
}

func (w writer) UseOnce(ctx context.Context, key string, until time.Time) (_ bool, err error) {
	defer row.Wrap(&err, "use once")
	added, err := w.tx.Exec(ctx, `INSERT INTO once (key, until) VALUES (?1, ?2) ON CONFLICT (key) DO NOTHING`,
		key, row.Instant(until))
	return added == 1, err
}

func (w writer) Secret(ctx context.Context, name string) (_ []byte, err error) {
	defer row.Wrap(&err, "secret %s", name)
	made := make([]byte, 32)
	rand.Read(made) // never fails: crypto/rand ends the program instead
	if _, err := w.tx.Exec(ctx, `INSERT INTO secret (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO NOTHING`,
		name, made); err != nil {
		return nil, err
	}
	return scalar[[]byte](ctx, w.tx, `SELECT value FROM secret WHERE name = ?1`, name)
}
