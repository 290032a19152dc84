// Package app puts the parts together: New wires them, Run starts them and
// stops them in reverse. Tests start the whole service here on port 0.
package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/message/link"
	"winterstand/internal/message/phrase"
	"winterstand/internal/outside/settings"
	"winterstand/internal/science/verdict"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/deliver"
	"winterstand/internal/service/inbound"
	"winterstand/internal/service/letters"
	"winterstand/internal/service/plan"
	"winterstand/internal/service/round"
	"winterstand/internal/service/scene"
	"winterstand/internal/service/schedule"
	"winterstand/internal/service/score"
	"winterstand/internal/store"
	"winterstand/internal/web/page"
)

// Options of a service.
type Options struct {
	Settings settings.Settings
	Migrate  bool // bring the schema up to date first
	Now      func() time.Time
	Log      *slog.Logger
	// Sleep waits before a repeated request to a forecast service; nil: a timer.
	Sleep func(ctx context.Context, d time.Duration) error
	// Listener to serve on, the service's own once New succeeds; nil: Listen makes
	// one of Settings.Listen.
	Listener net.Listener
	// Told is called after every delivered message; may be nil.
	Told func(ctx context.Context, m store.Message, e deliver.Envelope)
}

// Service is the whole program on one database.
type Service struct {
	Options
	Book      store.Store
	Commands  commands.Service
	Runner    *round.Runner
	Scorer    score.Scorer
	Letters   letters.Writer
	Carrier   *deliver.Carrier
	Plans     plan.Reader
	Catalogue crop.Catalogue
	Phrases   *phrase.Book
	queue     queue
	presence  presence
	works     works
	inbound   *inbound.Box // nil: nobody can reply by text
	pages     *page.Site
	listener  net.Listener
	hands     hands
	stopTime  time.Duration
	close     func() error
}

// New opens the database and wires the parts. Close releases them.
func New(ctx context.Context, o Options) (*Service, error) {
	s := &Service{Options: o, listener: o.Listener}
	var err error
	if s.stopTime, err = o.Settings.Service.StopTime(); err != nil {
		return nil, fmt.Errorf("settings service.stop_within: %w", err)
	}
	opened, err := openBook(ctx, o.Settings, o.Migrate)
	if err != nil {
		return nil, err
	}
	s.Book = opened.Store
	s.close = sync.OnceValue(s.release)
	if err := s.wire(ctx, opened); err != nil {
		return nil, errors.Join(err, opened.Close())
	}
	if err := s.enter(ctx); err != nil {
		return nil, errors.Join(err, opened.Close(), s.presence.leave())
	}
	return s, nil
}

// Close gives back the address and the connections to the database. Every call
// gives the same error.
func (s *Service) Close() error { return s.close() }

func (s *Service) release() error {
	errs := []error{s.Book.Close(), s.presence.leave()}
	if s.listener != nil { // Run has closed it, where there was one
		if err := s.listener.Close(); !errors.Is(err, net.ErrClosed) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// enter takes over what a killed process left, where no other is at work.
func (s *Service) enter(ctx context.Context) (err error) {
	if s.presence, err = enter(s.Settings); err != nil || !s.presence.alone {
		return err
	}
	n, err := s.Carrier.TakeOver(ctx)
	if n > 0 {
		s.Log.Warn("messages were under way when the process before ended; they are tried again", "messages", n)
	}
	return err
}

func (s *Service) wire(ctx context.Context, opened *book) error {
	var err error
	if s.Catalogue, err = crop.Default(); err != nil {
		return fmt.Errorf("crop catalogue: %w", err)
	}
	if s.Phrases, err = phrase.Load(); err != nil {
		return err
	}
	srcs, err := sources(s.Settings.Forecast, s.Options)
	if err != nil {
		return err
	}
	channels, err := senders(s.Settings, s.Log)
	if err != nil {
		return err
	}
	scenes := &scene.Reader{Store: s.Book, Catalogue: s.Catalogue, Log: s.Log, Now: s.Now, Members: verdict.DefaultMembers}
	s.Runner, s.Scorer = round.New(scenes, srcs...), score.Scorer{Reader: scenes}
	s.Letters = letters.Writer{Store: s.Book, Catalogue: s.Catalogue, Now: s.Now}
	s.Commands = commands.Service{Store: s.Book, Catalogue: s.Catalogue, Now: s.Now, Filled: s.Letters.RoomFilled}
	s.Plans = plan.Reader{Books: s.Book.Reader, Catalogue: s.Catalogue, Now: s.Now}
	s.Carrier = &deliver.Carrier{Store: s.Book, Senders: channels, Book: s.Phrases, PublicURL: s.Settings.PublicURL,
		Artist: artist{scenes, &outlooks{}}, Annex: s.annex, Log: s.Log, Now: s.Now, Told: s.Told}
	if s.inbound, err = s.replies(); err != nil {
		return err
	}
	s.Carrier.Replies = s.inbound != nil
	s.works = works{store: s.Book, runner: s.Runner, scorer: s.Scorer, letters: s.Letters, carrier: s.Carrier, inbound: s.inbound, now: s.Now, decisions: newDecisions()}
	c := s.Settings.Schedule
	s.queue, err = opened.newQueue(schedule.Options{Works: s.works, Taken: s.hands.take, Log: s.Log, Now: s.Now,
		Crons: schedule.Crons{Poll: c.Poll, Sweep: c.Sweep, Daily: c.Daily, Weekly: c.Weekly}})
	if err != nil {
		return err
	}
	return s.readSecret(ctx)
}

func (s *Service) readSecret(ctx context.Context) error {
	err := s.Book.Write(ctx, func(tx store.Writer) error {
		secret, err := tx.Secret(ctx, "links")
		s.Carrier.Signer = link.Signer{Secret: secret}
		return err
	})
	if err != nil {
		return fmt.Errorf("secret of the links: %w", err)
	}
	return nil
}

// Listen takes the address; Address is known from then on.
func (s *Service) Listen() error {
	if s.listener != nil {
		return nil
	}
	l, err := net.Listen("tcp", s.Settings.Listen)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	s.listener = l
	return nil
}

// Address is where the pages and the API are.
func (s *Service) Address() string { return s.listener.Addr().String() }

// Drain delivers, at once and in this process, everything that is due now: for
// a single round, and for playing a winter at speed. It returns when nothing is
// overdue, or after as many messages as there are tries.
func (s *Service) Drain(ctx context.Context) error {
	for range drainMost {
		ids, err := s.Book.Overdue(ctx, s.Now(), sweepMost)
		if err != nil || len(ids) == 0 {
			return err
		}
		for _, id := range ids {
			if err := s.Carrier.Message(ctx, id); err != nil {
				return err
			}
		}
	}
	return nil
}

const drainMost = 20

// OnTold replaces what is called after every delivered message; set it before
// Run.
func (s *Service) OnTold(f func(ctx context.Context, m store.Message, e deliver.Envelope)) {
	s.Carrier.Told = f
}

// Poll queues a round of every cell now, and every message that is overdue.
func (s *Service) Poll(ctx context.Context) error {
	return errors.Join(s.works.Poll(ctx), s.works.Sweep(ctx))
}
