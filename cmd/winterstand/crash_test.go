package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/app"
	"winterstand/internal/outside/settings"
	"winterstand/internal/store"
	"winterstand/internal/store/storetest"
	"winterstand/internal/trial/patience"
	"winterstand/internal/trial/rehearsal"
	"winterstand/internal/trial/standin"
	"winterstand/internal/weather"
)

// rounds of killing: few in an ordinary run, WINTERSTAND_CRASHES says how many else.
func rounds(t *testing.T) int {
	t.Helper()
	n, err := strconv.Atoi(os.Getenv("WINTERSTAND_CRASHES"))
	if err != nil {
		return 8
	}
	return n
}

// siege is farms on one forecast, served by processes that are killed. The
// clock runs on through all of them.
type siege struct {
	*installation
	began     time.Time
	processes []*process
	farms     []besieged
	made      map[string]int64 // beds by key of the request
	mu        sync.Mutex
}

type besieged struct {
	token      string
	field      int64
	recipients int
}

const (
	siegeFarms  = 4
	siegePeople = 3
)

// story opens on the eve of a snap that no chard outlives.
func newSiege(t *testing.T, database string, processes int) *siege {
	t.Helper()
	s := &siege{began: time.Now(), made: map[string]int64{}, processes: make([]*process, processes)}
	sky := httptest.NewServer(standin.New(standin.Options{
		Places: []standin.Place{rehearsal.Place()}, Now: s.clock,
		Forecast: func(_ standin.Place, issued time.Time) []weather.Hour { return rehearsal.Story().Forecast(issued, 182) },
		Past:     func(_ standin.Place, from, to time.Time) []weather.Hour { return rehearsal.Story().Past(from, to) },
	}))
	t.Cleanup(sky.Close)
	s.installation = install(t, sky.URL, database, time.Time{}, "")
	s.line.most = 150 * time.Millisecond
	if database != "" {
		s.tick()
		r := s.run("migrate")
		require.Equal(t, 0, r.code, r.err)
	}
	return s
}

func (s *siege) clock() time.Time { return rehearsal.Eve.Add(time.Since(s.began)) }

func (s *siege) tick() { s.now = s.clock() }

// settle makes the farms with their people and fields.
func (s *siege) settle() {
	s.Helper()
	for i := range siegeFarms {
		s.tick()
		r := s.run("token", "--farm", fmt.Sprintf("Farm %d", i))
		require.Equal(s, 0, r.code, r.err)
		s.farms = append(s.farms, besieged{token: strings.TrimSpace(r.out), recipients: siegePeople})
	}
	p := s.up(0)
	for i := range s.farms {
		s.token = s.farms[i].token
		for j := range siegePeople {
			p.made("/v1/recipients", fmt.Sprintf(`{"name":"P%d","email":"p%d.%d@farm.test","phone":"+1207555%02d%02d"}`, j, i, j, i, j))
		}
		place := rehearsal.Place()
		s.farms[i].field = p.made("/v1/fields", fmt.Sprintf(`{"name":"F%d","latitude":%g,"longitude":%g}`, i, place.Latitude, place.Longitude))
	}
}

// up starts a process where there is none.
func (s *siege) up(i int) *process {
	s.Helper()
	s.tick()
	s.processes[i] = s.serve()
	return s.processes[i]
}

// plant registers a bed on every farm, again and again under the same
// Idempotency-Key until it is taken by one of the processes.
func (s *siege) plant(ctx context.Context, round int, addresses func() []string) {
	for i, f := range s.farms {
		key := fmt.Sprintf("siege-%d-%d", round, i)
		body := fmt.Sprintf(`{"field_id":%d,"name":"B%d","crop":"chard","sown_on":"2025-07-01"}`, f.field, round)
		for n := 0; ctx.Err() == nil; n++ {
			all := addresses()
			if id, ok := post(ctx, all[n%len(all)]+"/v1/beds", f.token, key, body); ok {
				s.mu.Lock()
				s.made[key] = id
				s.mu.Unlock()
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
	}
}

// post gives the ID that was made; false where nobody answered.
func post(ctx context.Context, address, token, key, body string) (int64, bool) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address, strings.NewReader(body))
	if err != nil {
		return 0, false
	}
	r.Header.Set("Authorization", "Bearer "+token)
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Idempotency-Key", key)
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, false
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusCreated {
		return 0, false
	}
	return idOf(b), true
}

// notInShort leaves a siege to the full run: it kills a program that is built
// without the race detector, so that a second siege under it shows nothing new.
func notInShort(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("a siege is for the full run")
	}
}

func TestKilledAtAnyMomentNoNoticeIsLost(t *testing.T) {
	notInShort(t)
	t.Parallel()
	s := newSiege(t, "", 1)
	s.besiege(rand.New(rand.NewPCG(1, 7)))
}

func TestTwoProcessesOnOneServerKilledInTurn(t *testing.T) {
	notInShort(t)
	t.Parallel()
	s := newSiege(t, storetest.Database(t), 2)
	s.besiege(rand.New(rand.NewPCG(2, 7)))
}

// besiege kills processes at random moments while beds come in and messages go
// out, then lets them finish and counts.
func (s *siege) besiege(chance *rand.Rand) {
	s.Helper()
	s.settle()
	for i := 1; i < len(s.processes); i++ {
		s.up(i)
	}
	book := s.book()
	defer book.Close()
	n := rounds(s.T)
	for round := range n {
		ctx := patience.Context(s, 1, "planting a bed on every farm")
		since, planted := s.clock().Truncate(time.Second), make(chan struct{})
		go func() { defer close(planted); s.plant(ctx, round, s.addresses) }()
		wait := 2 * time.Second
		if round%2 == 1 { // every other time while messages are leaving
			<-planted
			s.leaving(book, since)
			wait /= 2
		}
		time.Sleep(time.Duration(chance.Int64N(int64(wait))))
		victim := round % len(s.processes)
		s.processes[victim].kill()
		s.replace(victim)
		<-planted
	}
	s.finish(book, n)
}

// leaving waits until a message made since a moment is under way; after the
// death of a process that led the others that takes some 20 s.
func (s *siege) leaving(book *app.Books, since time.Time) {
	s.Helper()
	for end := time.Now().Add(25 * time.Second); time.Now().Before(end) && s.underWay(book, since) == 0; {
		time.Sleep(20 * time.Millisecond)
	}
}

// replace starts a process in the place of a killed one.
func (s *siege) replace(i int) {
	s.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.up(i)
}

// TestMessagesUnderWayAreTakenOver measures how long those wait that were in
// the hands of a process when it was killed.
func TestMessagesUnderWayAreTakenOver(t *testing.T) {
	t.Parallel()
	s := newSiege(t, "", 1)
	s.settle()
	release := s.line.hold()
	s.plant(t.Context(), 0, s.addresses)
	book := s.book()
	defer book.Close()
	patience.Until(t, func() bool { return s.underWay(book, rehearsal.Eve) >= siegeFarms*siegePeople }, "messages that are being sent")
	s.processes[0].kill()
	release()
	again := time.Now()
	s.up(0)
	var first time.Duration
	patience.Until(t, func() bool {
		c, err := book.Store.Counts(context.Background())
		if err == nil && c.MessagesSent > 0 && first == 0 {
			first = time.Since(again)
		}
		return err == nil && c.MessagesQueued == 0
	}, "the end of the queue of messages")
	t.Logf("first message %.1f s, last %.1f s after the start", first.Seconds(), time.Since(again).Seconds())
	assert.Equal(t, 0, s.processes[0].stop())
	s.count(book, 1, time.Since(again))
}

// underWay is how many messages made since a moment are being tried.
func (s *siege) underWay(book *app.Books, since time.Time) int {
	farms, err := book.Store.Farms(context.Background(), store.Page{})
	require.NoError(s, err)
	n := 0
	for _, f := range farms {
		ms, err := book.Store.Messages(context.Background(), f.ID, store.Page{})
		require.NoError(s, err)
		for _, m := range ms {
			if m.State == store.Queued && m.Attempts > 0 && !m.CreatedAt.Before(since) {
				n++
			}
		}
	}
	return n
}

func (s *siege) addresses() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []string
	for _, p := range s.processes {
		out = append(out, p.address)
	}
	return out
}

// finish waits until all is quiet and compares the book with what arrived.
func (s *siege) finish(book *app.Books, n int) {
	s.Helper()
	quiet := time.Now()
	patience.Until(s, func() bool {
		c, err := book.Store.Counts(context.Background())
		return err == nil && c.MessagesQueued == 0 && s.told(book) == n*siegeFarms
	}, "a notice for each bed and the end of the queue of messages")
	took := time.Since(quiet)
	for _, p := range s.processes {
		assert.Equal(s, 0, p.stop())
	}
	s.count(book, n, took)
}

func (s *siege) book() *app.Books {
	s.Helper()
	c, err := settings.Load(s.file, true, nil)
	require.NoError(s, err)
	book, err := app.OpenBooks(context.Background(), c, s.clock)
	require.NoError(s, err)
	return book
}

// told is how many beds have their first notice.
func (s *siege) told(book *app.Books) int {
	farms, err := book.Store.Farms(context.Background(), store.Page{})
	require.NoError(s, err)
	beds := map[int64]bool{}
	for _, f := range farms {
		ns, err := book.Store.Notices(context.Background(), f.ID, store.NoticeFilter{Kind: "harvest-before"})
		require.NoError(s, err)
		for _, n := range ns {
			beds[n.BedID] = true
		}
	}
	return len(beds)
}

// count compares notices and messages in the book with what the mail server and
// the gateway took, by key.
func (s *siege) count(book *app.Books, n int, took time.Duration) {
	s.Helper()
	ctx := context.Background()
	farms, err := book.Store.Farms(ctx, store.Page{})
	require.NoError(s, err)
	arrived := s.arrived()
	notices, messages, repeats := 0, 0, 0
	for _, f := range farms {
		beds, err := book.Store.Beds(ctx, f.ID, store.BedFilter{})
		require.NoError(s, err)
		require.Len(s, beds, n, "a request that is repeated after a kill makes no second bed")
		ns, err := book.Store.Notices(ctx, f.ID, store.NoticeFilter{})
		require.NoError(s, err)
		notices += len(ns)
		carried := map[string]int{} // by notice, recipient and channel
		ms, err := book.Store.Messages(ctx, f.ID, store.Page{})
		require.NoError(s, err)
		for _, m := range ms {
			messages++
			require.Equal(s, store.Sent, m.State, "message %d: %s", m.ID, m.LastError)
			require.Positive(s, arrived[m.Key], "message %d is marked as sent and never arrived", m.ID)
			repeats += arrived[m.Key] - 1
			delete(arrived, m.Key)
			for _, id := range m.NoticeIDs {
				carried[fmt.Sprintf("%d to %d by %s", id, m.RecipientID, m.Channel)]++
			}
		}
		require.Len(s, carried, len(ns)*siegePeople*2, "every notice to everybody by both ways")
		for what, times := range carried {
			require.Equal(s, 1, times, "notice %s", what)
		}
	}
	require.Empty(s, arrived, "what arrived and is not in the book")
	s.Logf("%d kills: %d notices, %d messages, all arrived; %d arrived more than once under their key; quiet %.1f s after the last start",
		n, notices, messages, repeats, took.Seconds())
}

// arrived is how often each message key was taken.
func (s *siege) arrived() map[string]int {
	out := map[string]int{}
	for id, n := range s.caught.MailCounts() {
		out[strings.TrimSuffix(id, "@farm.test")] += n
	}
	for key, n := range s.caught.TextCounts() {
		out[key] += n
	}
	return out
}
