package app

import (
	"context"

	"winterstand/internal/message/reply"
	"winterstand/internal/outside/sms"
	"winterstand/internal/service/inbound"
	"winterstand/internal/store"
)

// replies takes what people text back; nil: the settings hold no secret for it.
func (s *Service) replies() (*inbound.Box, error) {
	secret := s.Settings.SMS.InboundSecret
	if secret == "" {
		return nil, nil
	}
	gate, err := sms.NewInbound(sms.InboundSettings{Secret: secret})
	if err != nil {
		return nil, err
	}
	words, err := reply.Read(s.Phrases)
	if err != nil {
		return nil, err
	}
	b := &inbound.Box{Commands: s.Commands, Gate: gate, Phrases: s.Phrases, Words: words, PublicURL: s.Settings.PublicURL, Now: s.Now, Log: s.Log}
	for _, channel := range []string{store.Email, store.SMS} {
		if _, ok := s.Carrier.Senders[channel]; ok {
			b.Channels = append(b.Channels, channel)
		}
	}
	if t, ok := s.Carrier.Senders[store.SMS].(inbound.Texter); ok {
		b.Texter = t
	}
	return b, nil
}

// Text sends a text that is no notice.
func (t texter) Text(ctx context.Context, to, text, key string) (bool, error) {
	return t.gateway.Send(ctx, sms.Text{To: to, Text: text, Key: key})
}
