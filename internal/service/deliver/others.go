package deliver

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func some(t time.Time) unit.Maybe[time.Time] { return unit.Some(t) }

// tellOthers tells the farm's other recipients, and the same one by the other
// channel, that a message did not arrive. A message that itself says so is not
// followed by another: that would go round in circles.
func (c *Carrier) tellOthers(ctx context.Context, tx store.Writer, m store.Message) error {
	about, err := c.worthTelling(ctx, tx, m)
	if err != nil || len(about) == 0 {
		return err
	}
	to, err := tx.Recipient(ctx, m.FarmID, m.RecipientID)
	if err != nil {
		return err
	}
	owner, err := tx.Farm(ctx, m.FarmID)
	if err != nil {
		return err
	}
	n, err := c.writeUndelivered(ctx, tx, m, to, owner, about)
	if errors.Is(err, store.ErrExists) {
		return nil
	}
	if err != nil {
		return err
	}
	return c.address(ctx, tx, n, m, to)
}

func (c *Carrier) worthTelling(ctx context.Context, tx store.Writer, m store.Message) ([]int64, error) {
	var about []int64
	for _, id := range m.NoticeIDs {
		n, err := tx.Notice(ctx, m.FarmID, id)
		if err != nil {
			return nil, fmt.Errorf("notice %d: %w", id, err)
		}
		if n.Kind != notice.Undelivered && n.Kind != notice.StillWatching {
			about = append(about, id)
		}
	}
	return about, nil
}

func (c *Carrier) writeUndelivered(ctx context.Context, tx store.Writer, m store.Message, to farm.Recipient, owner farm.Farm, about []int64) (store.Notice, error) {
	zone, err := store.ZoneOf(ctx, tx, owner)
	if err != nil {
		return store.Notice{}, err
	}
	facts := notice.Facts{Kind: notice.Undelivered, Farm: owner.Name, Zone: zone.String(), Night: farm.DayOf(c.Now(), zone),
		Unreached: &notice.Unreached{Name: to.Name, Channel: m.Channel, Error: m.LastError, About: about}}
	body, err := json.Marshal(facts)
	if err != nil {
		return store.Notice{}, fmt.Errorf("facts of undelivered message %d: %w", m.ID, err)
	}
	n := store.Notice{FarmID: m.FarmID, Subject: fmt.Sprintf("recipient:%d/%s", to.ID, m.Channel), Kind: notice.Undelivered,
		Night: facts.Night, Revision: 0, IssuedAt: c.Now(), Facts: body}
	n.ID, err = tx.AddNotice(ctx, n)
	return n, err
}

// address queues the news for everybody else, and for the unreached one by the
// channel that may still work.
func (c *Carrier) address(ctx context.Context, tx store.Writer, n store.Notice, failed store.Message, unreached farm.Recipient) error {
	recipients, err := tx.Recipients(ctx, n.FarmID, store.Page{})
	if err != nil {
		return err
	}
	for _, to := range recipients {
		for _, channel := range []string{store.Email, store.SMS} {
			if to.ID == unreached.ID && channel == failed.Channel || !reachable(to, channel) {
				continue
			}
			m := store.Message{FarmID: n.FarmID, RecipientID: to.ID, Channel: channel, State: store.Queued, NoticeIDs: []int64{n.ID},
				Key: fmt.Sprintf("undelivered-%d-%d-%s", n.ID, to.ID, channel), CreatedAt: c.Now(), NotBefore: c.Now()}
			if m.ID, err = tx.AddMessage(ctx, m); err != nil {
				return err
			}
			if err := tx.Enqueue(ctx, store.Job{MessageID: m.ID}); err != nil {
				return err
			}
		}
	}
	return nil
}

func reachable(to farm.Recipient, channel string) bool {
	if channel == store.SMS {
		return to.Phone != "" && !to.MutedSMS
	}
	return to.Email != ""
}
