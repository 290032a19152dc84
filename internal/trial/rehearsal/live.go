package rehearsal

import (
	"context"
	"errors"
	"time"

	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
)

// Live serves pages and API and does a round every hour of the story, until
// ctx ends. say is told of every message that has left.
func (s *Stage) Live(ctx context.Context, hour time.Duration, say func(channel, to, subject string)) error {
	s.Service.OnTold(func(ctx context.Context, m store.Message, e deliver.Envelope) {
		s.hear(ctx, m, e)
		text := e.Letter.Subject
		if m.Channel == store.SMS {
			text = e.Letter.SMS
		}
		say(m.Channel, e.To.Name, text)
	})
	served := make(chan error, 1)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go func() { served <- s.Service.Run(ctx) }()
	tick := time.NewTicker(hour)
	defer tick.Stop()
	for {
		if err := s.Service.Poll(ctx); err != nil && ctx.Err() == nil {
			cancel()
			return errors.Join(err, <-served)
		}
		select {
		case err := <-served:
			return err
		case <-tick.C:
		}
	}
}
