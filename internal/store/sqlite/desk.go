package sqlite

import (
	"context"
	"crypto/rand"
	"errors"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	replyColumns   = "farm_id, key, request_hash, status, header, body, until"
	sessionColumns = "hash, farm_id, recipient_id, scope, csrf, until"
)

func (r reader) Reply(ctx context.Context, farmID int64, key string) (_ store.Reply, err error) {
	defer row.Wrap(&err, "reply to %q", key)
	return one(ctx, r.q, row.ScanReply, `SELECT `+replyColumns+` FROM reply WHERE farm_id = ?1 AND key = ?2`, farmID, key)
}

// Remember is ErrExists where a reply to the key stands already.
func (w writer) Remember(ctx context.Context, r store.Reply) (err error) {
	defer row.Wrap(&err, "remember reply to %q", r.Key)
	vs, err := row.ReplyValues(r)
	if err != nil {
		return err
	}
	return w.addOnce(ctx, `INSERT INTO reply (`+replyColumns+`) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
		ON CONFLICT (farm_id, key) DO NOTHING`, vs...)
}

func (r reader) Session(ctx context.Context, hash string) (_ store.Session, err error) {
	defer row.Wrap(&err, "session")
	return one(ctx, r.q, row.ScanSession, `SELECT `+sessionColumns+` FROM session WHERE hash = ?1`, hash)
}

func (w writer) AddSession(ctx context.Context, s store.Session) (err error) {
	defer row.Wrap(&err, "add session of farm %d", s.FarmID)
	vs, err := row.SessionValues(s)
	if err != nil {
		return err
	}
	return w.addOnce(ctx, `INSERT INTO session (`+sessionColumns+`) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
		ON CONFLICT (hash) DO NOTHING`, vs...)
}

func (w writer) DropSession(ctx context.Context, hash string) (err error) {
	defer row.Wrap(&err, "drop session")
	_, err = w.exec(ctx, `DELETE FROM session WHERE hash = ?1`, hash)
	return err
}

func (w writer) UseOnce(ctx context.Context, key string, until time.Time) (_ bool, err error) {
	defer row.Wrap(&err, "use once")
	added, err := w.exec(ctx, `INSERT INTO once (key, until) VALUES (?1, ?2) ON CONFLICT (key) DO NOTHING`,
		key, row.Instant(until))
	return added == 1, err
}

func (w writer) Secret(ctx context.Context, name string) (_ []byte, err error) {
	defer row.Wrap(&err, "secret %s", name)
	made := make([]byte, 32)
	rand.Read(made) // never fails: crypto/rand ends the program instead
	if _, err := w.exec(ctx, `INSERT INTO secret (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO NOTHING`,
		name, made); err != nil {
		return nil, err
	}
	return one(ctx, w.tx, func(scan row.Scan) (v []byte, err error) {
		err = scan(&v)
		return v, err
	}, `SELECT value FROM secret WHERE name = ?1`, name)
}

// Enqueue needs a queue: Store.Attach.
func (w writer) Enqueue(ctx context.Context, jobs ...store.Job) (err error) {
	defer row.Wrap(&err, "enqueue %d jobs", len(jobs))
	if w.enqueue == nil {
		return errors.New("no queue is attached to the store")
	}
	if err := row.CheckJobs(jobs); err != nil || len(jobs) == 0 {
		return err
	}
	return w.enqueue(ctx, w.tx, jobs)
}
