package commands

import (
	"context"
	"fmt"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// SendTest queues a test message on every channel of a recipient. Errors:
// *Refused when there is no channel left to try, store.ErrNotFound.
func (d Service) SendTest(ctx context.Context, farmID, recipientID int64) (sent []store.Message, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		r, err := w.Recipient(ctx, farmID, recipientID)
		if err != nil {
			return err
		}
		channels := channelsOf(r)
		if len(channels) == 0 {
			return refuse("test")
		}
		for _, channel := range channels {
			m, err := d.queueTest(ctx, w, r, channel)
			if err != nil {
				return err
			}
			sent = append(sent, m)
		}
		return nil
	})
	return sent, err
}

func channelsOf(r farm.Recipient) (channels []string) {
	if r.RemovedAt.Known() {
		return nil
	}
	if r.Email != "" {
		channels = append(channels, store.Email)
	}
	if r.Phone != "" && !r.MutedSMS {
		channels = append(channels, store.SMS)
	}
	return channels
}

func (d Service) queueTest(ctx context.Context, w store.Writer, r farm.Recipient, channel string) (store.Message, error) {
	m := store.Message{
		FarmID: r.FarmID, RecipientID: r.ID, Channel: channel, Test: true, State: store.Queued,
		Key:       fmt.Sprintf("test:%d:%s:%s", r.ID, channel, secret()),
		CreatedAt: d.now(), NotBefore: d.now(),
	}
	id, err := w.AddMessage(ctx, m)
	if err != nil {
		return m, err
	}
	m.ID = id
	return m, w.Enqueue(ctx, store.Job{MessageID: id})
}
