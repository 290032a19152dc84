package round

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/message/notice"
	"winterstand/internal/store"
)

// Alerts are the official warnings in force at a cell, from what is kept, and
// when they were last asked for; a zero time: never.
func Alerts(ctx context.Context, r store.Reader, cellID int64, now time.Time) ([]notice.Alert, time.Time, error) {
	var memo alertMemo
	body, err := r.Memo(ctx, fmt.Sprintf("cell:%d", cellID), AlertMemo)
	if errors.Is(err, store.ErrNotFound) {
		return nil, time.Time{}, nil
	}
	if err == nil {
		err = json.Unmarshal(body, &memo)
	}
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("official warnings of cell %d: %w", cellID, err)
	}
	return InForce(memo.Alerts, now), memo.Asked, nil
}
