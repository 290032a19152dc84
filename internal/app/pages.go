package app

import (
	"context"
	"crypto/rand"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
	"winterstand/internal/web/page"
)

// mountPages puts the pages beside the HTTP interface.
func (s *Service) mountPages(r chi.Router) error {
	o := page.Options{Commands: s.Commands, Judge: s.Runner, Plans: s.Plans, Draw: drawing, Signer: s.Carrier.Signer, Phrases: s.Phrases,
		PublicURL: s.Settings.PublicURL, Log: s.Log}
	for _, channel := range []string{store.Email, store.SMS} {
		if _, ok := s.Carrier.Senders[channel]; ok {
			o.Channels = append(o.Channels, channel)
		}
	}
	for _, source := range s.Runner.Sources {
		o.Sources = append(o.Sources, source.Name())
	}
	if sender, ok := s.Carrier.Senders[store.Email]; ok {
		o.Mailer = ownMail{sender, s.Now, &s.hands}
	}
	var err error
	if s.pages, err = page.New(o); err != nil {
		return err
	}
	s.pages.Mount(r)
	return nil
}

// ownMail sends a page's own letters by the way that notices take. Each is tried
// once: whoever does not get it asks for another.
type ownMail struct {
	sender deliver.Sender
	now    func() time.Time
	hands  *hands
}

func (l ownMail) Mail(ctx context.Context, to farm.Recipient, subject, text string) error {
	defer l.hands.take("a letter")()
	_, err := l.sender.Send(ctx, deliver.Envelope{Key: "letter-" + rand.Text(), To: to, At: l.now(), Letter: notice.Letter{Subject: subject, Text: text}})
	return err
}
