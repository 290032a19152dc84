package desk

import (
	"context"
	"fmt"

	"winterstand/internal/farm"
	"winterstand/internal/ledger"
)

// SendTest queues a test message on every channel of a recipient. Errors:
// *Refused when there is no channel left to try, ledger.ErrNotFound.
func (d Desk) SendTest(ctx context.Context, farmID, recipientID int64) (sent []ledger.Message, err error) {
	err = d.write(ctx, func(w ledger.Writer) error {
		r, err := w.Recipient(ctx, farmID, recipientID)
		if err != nil {
			return err
		}
		channels := channelsOf(r)
		if len(channels) == 0 {
			return refuse("recipient %d cannot be reached: removed, or has answered STOP and has no e-mail address", recipientID)
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
		channels = append(channels, ledger.Email)
	}
	if r.Phone != "" && !r.MutedSMS {
		channels = append(channels, ledger.SMS)
	}
	return channels
}

func (d Desk) queueTest(ctx context.Context, w ledger.Writer, r farm.Recipient, channel string) (ledger.Message, error) {
	m := ledger.Message{
		FarmID: r.FarmID, RecipientID: r.ID, Channel: channel, Test: true, State: ledger.Queued,
		Key:       fmt.Sprintf("test:%d:%s:%s", r.ID, channel, secret()),
		CreatedAt: d.now(), NotBefore: d.now(),
	}
	id, err := w.AddMessage(ctx, m)
	if err != nil {
		return m, err
	}
	m.ID = id
	return m, w.Enqueue(ctx, ledger.Job{MessageID: id})
}
