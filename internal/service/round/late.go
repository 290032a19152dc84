package round

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/announce"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
)

// lateFor is how long it is remembered that a late comer was told.
const lateFor = 60 * 24 * time.Hour

// recentMessages is how far back it is looked whether a message went out.
const recentMessages = 200

// addressNewcomers tells people who were registered after an open event was told: whoever
// is added on the eve of a frost must hear of it too.
func (r *round) addressNewcomers(ctx context.Context, tx store.Writer) error {
	open := map[int64][]*scene.Plot{} // by farm
	for i := range r.plots {
		if e := r.events[r.plots[i].Bed.ID]; e.Phase.Open() && e.NoticeID != 0 {
			open[r.plots[i].Owner.ID] = append(open[r.plots[i].Owner.ID], &r.plots[i])
		}
	}
	for _, farmID := range slices.Sorted(maps.Keys(open)) {
		recipients, err := tx.Recipients(ctx, farmID, store.Page{})
		if err != nil {
			return fmt.Errorf("recipients of farm %d: %w", farmID, err)
		}
		for _, to := range recipients {
			if err := r.addressNewcomer(ctx, tx, to, open[farmID]); err != nil {
				return err
			}
		}
	}
	return nil
}

// addressNewcomer sends one person what was told before they were there.
func (r *round) addressNewcomer(ctx context.Context, tx store.Writer, to farm.Recipient, plots []*scene.Plot) error {
	var missed []announce.Addressed
	for _, p := range plots {
		e := r.events[p.Bed.ID]
		told, ok := e.ToldAt.Get()
		if !ok || to.CreatedAt.Before(told.Truncate(time.Second)) {
			continue
		}
		heard, err := r.hasMessage(ctx, tx, to, e.NoticeID)
		if err != nil || heard {
			if err != nil {
				return err
			}
			continue
		}
		n, err := tx.Notice(ctx, to.FarmID, e.NoticeID)
		if err != nil {
			return fmt.Errorf("notice %d: %w", e.NoticeID, err)
		}
		missed = append(missed, announce.Addressed{Notice: n, Owner: p.Owner, Zone: p.Zone, Windows: r.verdicts[p.Bed.ID].Windows})
	}
	if len(missed) == 0 {
		return nil
	}
	for _, channel := range []string{store.Email, store.SMS} {
		if err := announce.Post(ctx, tx, to, channel, missed, r.s.Now); err != nil {
			return err
		}
	}
	return nil
}

// hasMessage tells whether a person has a message with a notice; asking marks it as
// told, so that it is asked once.
func (r *round) hasMessage(ctx context.Context, tx store.Writer, to farm.Recipient, noticeID int64) (bool, error) {
	first, err := tx.UseOnce(ctx, fmt.Sprintf("late:%d:%d", to.ID, noticeID), r.s.Now.Add(lateFor))
	if err != nil || !first {
		return true, err
	}
	messages, err := tx.Messages(ctx, to.FarmID, store.Page{Limit: recentMessages})
	if err != nil {
		return false, fmt.Errorf("messages of farm %d: %w", to.FarmID, err)
	}
	return slices.ContainsFunc(messages, func(m store.Message) bool {
		return m.RecipientID == to.ID && slices.Contains(m.NoticeIDs, noticeID)
	}), nil
}
