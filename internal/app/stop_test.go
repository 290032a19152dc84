package app_test

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net/http"
	"regexp"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/outside/settings"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
	"winterstand/internal/trial/patience"
)

// held is a sender that has a message in hand until it is let go or told to stop.
type held struct {
	begun chan struct{}
	let   chan struct{}
}

func (h held) Send(ctx context.Context, _ deliver.Envelope) (bool, error) {
	h.begun <- struct{}{}
	select {
	case <-h.let:
		return false, nil
	case <-ctx.Done():
		return true, ctx.Err()
	}
}

// lines of a log.
type lines struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.String()
}

func (l *lines) has(pattern string) func() bool {
	return func() bool { return regexp.MustCompile(pattern).MatchString(l.String()) }
}

// stopping is a service at work with a mail and a request in hand.
type stopping struct {
	*world
	log    *lines
	sender held
	body   *io.PipeWriter // of the request
	stop   func()
	ended  chan error
	answer chan int
}

func newStopping(t *testing.T, within string) *stopping {
	t.Helper()
	s := &stopping{log: &lines{}, sender: held{make(chan struct{}), make(chan struct{})}, ended: make(chan error, 1), answer: make(chan int, 1)}
	s.world = newWorld(t, func(o *worldOptions) {
		o.log = slog.New(slog.NewTextHandler(s.log, nil))
		o.settings = func(c *settings.Settings) { c.Service.StopWithin = within }
	})
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(s.log)
		}
	})
	s.ann()
	s.bed("A1", "chard")
	s.snap()
	s.service.Carrier.Senders[store.Email] = s.sender
	require.NoError(t, s.service.Listen())
	ctx, stop := context.WithCancel(t.Context())
	s.stop = stop
	go func() { s.ended <- s.service.Run(ctx) }()
	patience.For(t, s.sender.begun, "a mail in hand")
	s.request()
	return s
}

// request begins a request whose body does not end yet.
func (s *stopping) request() {
	s.Helper()
	body, out := io.Pipe()
	s.body = out
	made, err := s.service.Commands.MakeToken(s.Context(), "Another farm", "write")
	require.NoError(s, err)
	r, err := http.NewRequest(http.MethodPost, "http://"+s.service.Address()+"/v1/recipients", body)
	require.NoError(s, err)
	r.Header.Set("Authorization", "Bearer "+made.Token)
	r.Header.Set("Content-Type", "application/json")
	go func() {
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			s.answer <- 0
			return
		}
		_ = res.Body.Close()
		s.answer <- res.StatusCode
	}()
	_, err = io.WriteString(out, `{"name":`)
	require.NoError(s, err)
	patience.Until(s, s.service.HasInHand("POST /v1"), "the request in hand")
}

// mail is the message in hand.
func (s *stopping) mail() store.Message {
	s.Helper()
	ms, err := s.service.Book.Messages(s.Context(), s.farmID, store.Page{})
	require.NoError(s, err)
	i := slices.IndexFunc(ms, func(m store.Message) bool { return m.Channel == store.Email })
	require.GreaterOrEqual(s, i, 0)
	return ms[i]
}

func TestAStopWaitsForWhatIsInHandAndSaysForWhat(t *testing.T) {
	s := newStopping(t, "1h")
	s.stop()
	patience.Until(t, s.log.has(`in_hand="POST /v1, (job cell .*, )?job message .*id.*1}" at_most=1h0m0s`), "what the stop waits for")
	_, err := io.WriteString(s.body, `"Ben","email":"ben@farm.test"}`)
	require.NoError(t, err)
	require.NoError(t, s.body.Close())
	assert.Equal(t, http.StatusCreated, patience.For(t, s.answer, "the answer"))
	close(s.sender.let)
	require.NoError(t, patience.For(t, s.ended, "the end"))
	assert.Equal(t, store.Sent, s.mail().State)
}

func TestAStopBreaksOffWhatTakesTooLong(t *testing.T) {
	s := newStopping(t, "1ms")
	s.stop()
	err := patience.For(t, s.ended, "the end")
	require.Error(t, err)
	require.Regexp(t, `broke off after 1ms \(settings service\.stop_within\): POST /v1, (job cell .*, )?job message`, err.Error(), "a round may be at work besides")
	require.NoError(t, s.body.Close())
	assert.Equal(t, 0, patience.For(t, s.answer, "the end of the request"))
	assert.Equal(t, store.Queued, s.mail().State, "it is tried again after the next start")
	assert.Equal(t, "context canceled", s.mail().LastError, "the job ended in order")
}

func TestAServiceIsClosedOnceByWhoeverAsks(t *testing.T) {
	w := newWorld(t)
	require.NoError(t, w.service.Listen())
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() { assert.NoError(t, w.service.Close()) })
	}
	all.Wait()
	require.NoError(t, w.service.Close())
	_, err := http.Get("http://" + w.service.Address() + "/")
	assert.Error(t, err, "the address is free")
}
