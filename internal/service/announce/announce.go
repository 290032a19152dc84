// Package announce writes notices and addresses them: one message a recipient and
// channel, which leaves by a job of the same transaction.
package announce

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
)

// Write writes a notice with its facts; false: it stands already.
func Write(ctx context.Context, tx store.Writer, d Due) (store.Notice, bool, error) {
	n := d.Notice
	body, err := json.Marshal(d.Facts)
	if err != nil {
		return n, false, fmt.Errorf("facts of %s: %w", n.Subject, err)
	}
	n.Facts = body
	n.ID, err = tx.AddNotice(ctx, n)
	if errors.Is(err, store.ErrExists) {
		return n, false, nil
	}
	return n, err == nil, err
}

// Due is one notice that is to be written.
type Due struct {
	Owner   farm.Farm
	Zone    *time.Location
	Notice  store.Notice
	Facts   notice.Facts
	Windows []farm.Window // in which something can still be done
}

// Addressed of a notice that was written.
func (d Due) Addressed(n store.Notice) Addressed {
	return Addressed{Notice: n, Owner: d.Owner, Zone: d.Zone, Windows: d.Windows}
}

// Addressed is one written notice that wants to reach people.
type Addressed struct {
	Notice  store.Notice
	Owner   farm.Farm
	Zone    *time.Location
	Windows []farm.Window // in which something can still be done
	Not     int64         // a recipient who is not to be told
	Only    string        // a channel; empty: both
}

// Address groups notices of one farm into one message a recipient and channel.
func Address(ctx context.Context, tx store.Writer, ns []Addressed, now time.Time) error {
	if len(ns) == 0 {
		return nil
	}
	recipients, err := tx.Recipients(ctx, ns[0].Owner.ID, store.Page{})
	if err != nil {
		return fmt.Errorf("recipients of farm %d: %w", ns[0].Owner.ID, err)
	}
	for _, to := range recipients {
		for _, channel := range []string{store.Email, store.SMS} {
			if err := Post(ctx, tx, to, channel, ns, now); err != nil {
				return err
			}
		}
	}
	return nil
}

// Post puts those of the notices that a recipient takes by a channel into one
// message. It waits for the end of quiet hours only if all of them can.
func Post(ctx context.Context, tx store.Writer, to farm.Recipient, channel string, ns []Addressed, now time.Time) error {
	ns = slices.DeleteFunc(slices.Clone(ns), func(n Addressed) bool {
		return !Wants(to, channel, n.Notice.Kind) || n.Not == to.ID || n.Only != "" && n.Only != channel
	})
	if len(ns) == 0 {
		return nil
	}
	m := store.Message{FarmID: to.FarmID, RecipientID: to.ID, Channel: channel, State: store.Queued, CreatedAt: now, NotBefore: leaveAt(to, ns, now)}
	for _, n := range ns {
		m.NoticeIDs = append(m.NoticeIDs, n.Notice.ID)
	}
	m.Key = messageKey(m)
	id, err := tx.AddMessage(ctx, m)
	if errors.Is(err, store.ErrExists) {
		return nil
	}
	if err != nil {
		return err
	}
	return tx.Enqueue(ctx, store.Job{MessageID: id, At: m.NotBefore})
}

// messageKey is stable for the same notices to the same person by the same way.
func messageKey(m store.Message) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %s %v", m.RecipientID, m.Channel, m.NoticeIDs))
	return hex.EncodeToString(sum[:12])
}

// Wants tells whether a recipient takes a kind by a channel.
func Wants(to farm.Recipient, channel, kind string) bool {
	if len(to.Kinds) > 0 && !slices.Contains(to.Kinds, kind) {
		return false
	}
	if channel == store.SMS {
		return to.Phone != "" && !to.MutedSMS && kind != notice.StillWatching
	}
	return to.Email != "" && !slices.Contains(to.MutedMail, kind)
}
