package round

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

// memoRef is a memo that is true once its notice is written.
type memoRef struct {
	owner, kind string
	value       any
}

// tell writes the due notices, groups them into one message a recipient and
// channel, and queues those. A notice that stands already is left out.
func (r *round) tell(ctx context.Context, tx store.Writer) ([]store.Notice, error) {
	var told []store.Notice
	written := map[int64][]due{} // by farm
	for _, d := range r.due {
		n, ok, err := writeNotice(ctx, tx, d)
		if err != nil {
			return nil, err
		}
		if d.memo != nil {
			if err := remember(ctx, tx, d.memo.owner, d.memo.kind, d.memo.value, r.s.now); err != nil {
				return nil, err
			}
		}
		if !ok {
			continue
		}
		d.notice = n
		told = append(told, n)
		written[n.FarmID] = append(written[n.FarmID], d)
		if n.BedID != 0 {
			e := r.events[n.BedID]
			e.NoticeID = n.ID
			r.events[n.BedID] = e
		}
	}
	for _, farmID := range sortedKeys(written) {
		if err := Address(ctx, tx, dueNotices(written[farmID]), r.s.now); err != nil {
			return nil, err
		}
	}
	return told, nil
}

func sortedKeys[V any](m map[int64]V) []int64 {
	var ks []int64
	for k := range m {
		ks = append(ks, k)
	}
	slices.Sort(ks)
	return ks
}

func writeNotice(ctx context.Context, tx store.Writer, d due) (store.Notice, bool, error) {
	n := d.notice
	body, err := json.Marshal(d.facts)
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

// Addressed is one written notice that wants to reach people.
type Addressed struct {
	Notice  store.Notice
	Owner   farm.Farm
	Zone    *time.Location
	Windows []farm.Window // in which something can still be done
	Not     int64         // a recipient who is not to be told
	Only    string        // a channel; empty: both
}

func dueNotices(ds []due) []Addressed {
	out := make([]Addressed, len(ds))
	for i, d := range ds {
		out[i] = Addressed{Notice: d.notice, Owner: d.owner, Zone: d.zone, Windows: d.windows}
	}
	return out
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
			if err := post(ctx, tx, to, channel, ns, now); err != nil {
				return err
			}
		}
	}
	return nil
}

func post(ctx context.Context, tx store.Writer, to farm.Recipient, channel string, ns []Addressed, now time.Time) error {
	m := store.Message{FarmID: to.FarmID, RecipientID: to.ID, Channel: channel, State: store.Queued, CreatedAt: now, NotBefore: now}
	hold := true
	var until time.Time
	for _, n := range ns {
		if !Wants(to, channel, n.Notice.Kind) || n.Not == to.ID || n.Only != "" && n.Only != channel {
			continue
		}
		m.NoticeIDs = append(m.NoticeIDs, n.Notice.ID)
		end, wait := quiet(to, n, now)
		hold, until = hold && wait, end
	}
	if len(m.NoticeIDs) == 0 {
		return nil
	}
	if hold {
		m.NotBefore = until
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

// leastWindow is the work that must still fit after quiet hours, else they are
// broken; own default.
const leastWindow = 2.0

// quiet tells whether a notice can wait for the end of the recipient's quiet
// hours, and when that is. It never waits when the deadline would be eaten.
func quiet(to farm.Recipient, n Addressed, now time.Time) (time.Time, bool) {
	end, in := QuietEnd(to, n.Zone, now)
	if !in {
		return now, false
	}
	by, ok := n.Notice.HarvestBefore.Get()
	if !ok {
		return end, !notice.Urgent(n.Notice.Kind)
	}
	left := 0.0
	for _, w := range n.Windows {
		if w.Start.Before(end) {
			w.Start = end
		}
		if w.End.After(by) {
			w.End = by
		}
		left += max(0, w.Hours())
	}
	return end, left >= leastWindow
}

// QuietEnd is the end of the quiet hours that now lies in.
func QuietEnd(to farm.Recipient, zone *time.Location, now time.Time) (time.Time, bool) {
	from, okFrom := clock(to.QuietFrom)
	until, okTo := clock(to.QuietTo)
	if !okFrom || !okTo || from == until {
		return now, false
	}
	l := now.In(zone)
	minute := l.Hour()*60 + l.Minute()
	inside := from < until && minute >= from && minute < until || from > until && (minute >= from || minute < until)
	if !inside {
		return now, false
	}
	end := time.Date(l.Year(), l.Month(), l.Day(), until/60, until%60, 0, 0, zone)
	if !end.After(now) {
		end = time.Date(l.Year(), l.Month(), l.Day()+1, until/60, until%60, 0, 0, zone)
	}
	return end.UTC(), true
}

// clock is minutes since midnight of "15:04".
func clock(s string) (int, bool) {
	t, err := time.Parse("15:04", s)
	return t.Hour()*60 + t.Minute(), err == nil
}
