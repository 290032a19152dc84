package deliver

import (
	"context"
	"fmt"

	"winterstand/internal/store"
)

// TakeOver makes messages due at once that a process had in its hands when it
// was killed, and tells how many. Without it they wait for the end of their
// lease. It is for a process that knows to be alone on its database.
func (c *Carrier) TakeOver(ctx context.Context) (int, error) {
	ids, err := c.Store.Overdue(ctx, c.Now().Add(lease), 0)
	if err != nil {
		return 0, fmt.Errorf("take messages over: %w", err)
	}
	taken := 0
	for _, id := range ids {
		err := c.Store.Write(ctx, func(tx store.Writer) error {
			m, err := tx.Message(ctx, id)
			if err != nil || !underWay(m) || !m.NotBefore.After(c.Now()) {
				return err
			}
			taken++
			m.NotBefore = c.Now()
			return tx.MarkMessage(ctx, m)
		})
		if err != nil {
			return taken, fmt.Errorf("take message %d over: %w", id, err)
		}
	}
	return taken, nil
}

// underWay: a try has begun and neither failed nor succeeded. One that waits
// after a failure says which.
func underWay(m store.Message) bool {
	return m.State == store.Queued && m.Attempts > 0 && m.LastError == ""
}
