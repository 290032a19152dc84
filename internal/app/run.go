package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"winterstand/internal/outside/serving"
)

// Run serves until ctx ends, then stops in reverse order. Listen first.
func (s *Service) Run(ctx context.Context) error {
	handler, err := s.Handler()
	if err != nil {
		return err
	}
	// The queue must outlive ctx, so that jobs at work end in order.
	if err := s.queue.Start(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	// What comes round by the clock begins when this process leads, which it does
	// some seconds after one that was killed.
	if err := s.Poll(ctx); err != nil && ctx.Err() == nil {
		s.Log.Error("first poll", "error", err)
	}
	server := &http.Server{Handler: s.counted(handler), ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute,
		ErrorLog: slog.NewLogLogger(s.Log.Handler(), slog.LevelWarn)}
	running := serving.Start(s.listener, server)
	select {
	case <-running.Ended():
	case <-ctx.Done():
	}
	return s.stop(context.WithoutCancel(ctx), server, running)
}

// breakOffWithin is how long those may take to end that were broken off.
const breakOffWithin = 5 * time.Second

// stop waits for what is in hand, for as long as the settings allow, and breaks
// off what is not done by then.
func (s *Service) stop(ctx context.Context, server *http.Server, running *serving.Running) error {
	end, cancel := context.WithTimeout(ctx, s.stopTime)
	defer cancel()
	err := s.finish(end, server)
	if end.Err() != nil {
		err = fmt.Errorf("stop: broke off after %s (settings service.stop_within): %s; jobs are taken up again after the next start",
			s.stopTime, &s.hands)
		last, cancel := context.WithTimeout(ctx, breakOffWithin)
		defer cancel()
		err = errors.Join(err, s.queue.BreakOff(last))
	}
	return errors.Join(err, running.Close(), running.Err())
}

// finish lets requests, letters and jobs come to their ends, and tells of those
// that are waited for.
func (s *Service) finish(ctx context.Context, server *http.Server) error {
	telling, done := context.WithCancel(ctx)
	var all sync.WaitGroup
	all.Go(func() { s.tellWaiting(telling) })
	jobs := make(chan error, 1)
	go func() { jobs <- s.queue.Stop(ctx) }()
	err := errors.Join(server.Shutdown(ctx), s.lettersLeft(ctx), <-jobs)
	done()
	all.Wait()
	return err
}

// lettersLeft waits for the letters of the pages, which take no more requests.
func (s *Service) lettersLeft(ctx context.Context) error {
	left := make(chan struct{})
	go func() { s.pages.Wait(); close(left) }()
	select {
	case <-left:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// tellEvery is how often a stop says what it still waits for.
const tellEvery = 5 * time.Second

func (s *Service) tellWaiting(ctx context.Context) {
	again := time.NewTicker(tellEvery)
	defer again.Stop()
	for {
		if !s.hands.empty() {
			s.Log.Info("stopping: waiting for what is in hand", "in_hand", s.hands.String(), "at_most", s.stopTime)
		}
		select {
		case <-again.C:
		case <-ctx.Done():
			return
		}
	}
}
