package inbound

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"winterstand/internal/store"
)

// parcel is a text that is to go back. It is written down with what was done,
// so that a restart loses none, and tried until it is stale.
type parcel struct {
	To        string    `json:"to"`
	Text      string    `json:"text"`
	Tries     int       `json:"tries"`
	NotBefore time.Time `json:"not_before"`
	Until     time.Time `json:"until"`
}

// memoKind of parcels; their owner is the key of the reply.
const memoKind = "text-back"

// Own defaults: an answer that comes hours after the question confuses.
const (
	staleAfter = time.Hour
	tryAgain   = time.Minute
	tryWithin  = 10 * time.Second
)

func pack(ctx context.Context, w store.Writer, key string, p parcel, now time.Time) error {
	body, err := json.Marshal(p)
	if err != nil {
		return fmt.Errorf("text back: %w", err)
	}
	return w.SetMemo(ctx, key, memoKind, body, now)
}

// Sweep sends what could not be sent at once.
func (b *Box) Sweep(ctx context.Context) error {
	waiting, err := b.Commands.Store.Memos(ctx, memoKind)
	if err != nil {
		return fmt.Errorf("texts back: %w", err)
	}
	for key := range waiting {
		b.post(ctx, key)
	}
	return nil
}

// post sends a parcel if it is due. What fails stays for the next sweep: the
// reply itself is noted whatever becomes of the text about it.
func (b *Box) post(ctx context.Context, key string) {
	if b.Texter == nil {
		return
	}
	p, due, err := b.claim(ctx, key)
	if err != nil {
		b.Log.ErrorContext(ctx, "text back", "error", err)
	}
	if err != nil || !due {
		return
	}
	call, cancel := context.WithTimeout(ctx, tryWithin)
	retry, err := b.Texter.Text(call, p.To, p.Text, "re-"+key)
	cancel()
	if err != nil {
		b.Log.WarnContext(ctx, "text back not sent", "try", p.Tries, "retry", retry, "error", err)
	}
	if err != nil && retry {
		return
	}
	err = b.Commands.Store.Write(ctx, func(w store.Writer) error { return w.DropMemo(ctx, key, memoKind) })
	if err != nil {
		b.Log.ErrorContext(ctx, "text back", "error", err)
	}
}

// claim takes a try: one process only gets it.
func (b *Box) claim(ctx context.Context, key string) (p parcel, due bool, err error) {
	now := b.Now().UTC()
	err = b.Commands.Store.Write(ctx, func(w store.Writer) error {
		due = false
		body, err := w.Memo(ctx, key, memoKind)
		if errors.Is(err, store.ErrNotFound) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := json.Unmarshal(body, &p); err != nil {
			return fmt.Errorf("text back %s: %w", key, err)
		}
		if now.After(p.Until) {
			return w.DropMemo(ctx, key, memoKind)
		}
		if now.Before(p.NotBefore) {
			return nil
		}
		p.Tries++
		if due, err = w.UseOnce(ctx, "text-back:"+key+":"+strconv.Itoa(p.Tries), p.Until); err != nil || !due {
			return err
		}
		p.NotBefore = now.Add(tryAgain)
		return pack(ctx, w, key, p, now)
	})
	return p, due, err
}
