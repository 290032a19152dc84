package store

import (
	"context"
	"encoding/json"
	"time"
)

// MemoReader finds what the service remembers for itself.
type MemoReader interface {
	Memo(ctx context.Context, owner, kind string) (json.RawMessage, error)
	// Memos of one kind by owner.
	Memos(ctx context.Context, kind string) (map[string]json.RawMessage, error)
	// Reply is what was answered to an Idempotency-Key before.
	Reply(ctx context.Context, farmID int64, key string) (Reply, error)
	Session(ctx context.Context, hash string) (Session, error)
}

// MemoWriter changes it.
type MemoWriter interface {
	SetMemo(ctx context.Context, owner, kind string, body json.RawMessage, now time.Time) error
	DropMemo(ctx context.Context, owner, kind string) error
	Remember(ctx context.Context, r Reply) error
	AddSession(ctx context.Context, s Session) error
	DropSession(ctx context.Context, hash string) error
	// UseOnce is true the first time a key is seen, false after.
	UseOnce(ctx context.Context, key string, until time.Time) (bool, error)
	// Secret of a name, made (32 random bytes) when it is asked for first.
	Secret(ctx context.Context, name string) ([]byte, error)
}

// Reply remembers an answer for an Idempotency-Key.
type Reply struct {
	FarmID      int64
	Key         string
	RequestHash string
	Status      int
	Header      map[string]string
	Body        []byte
	Until       time.Time
}

// Session is a signed-in browser.
type Session struct {
	Hash        string
	FarmID      int64
	RecipientID int64 // 0: signed in by token
	Scope       string
	CSRF        string
	Until       time.Time
}
