package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Recall reads a memo into a value, and leaves that as it is where there is none.
func Recall(ctx context.Context, r MemoReader, owner, kind string, into any) error {
	body, err := r.Memo(ctx, owner, kind)
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	if err == nil {
		err = json.Unmarshal(body, into)
	}
	if err != nil {
		return fmt.Errorf("memo %s %s: %w", owner, kind, err)
	}
	return nil
}

// Remember writes a value as a memo.
func Remember(ctx context.Context, w MemoWriter, owner, kind string, v any, now time.Time) error {
	body, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("memo %s %s: %w", owner, kind, err)
	}
	return w.SetMemo(ctx, owner, kind, body, now)
}
