package fetch

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"winterstand/internal/forecast"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 1, 12, 12, 0, 0, 0, time.UTC)

// peer is a server with a list of answers, a clock and a record of requests.
type peer struct {
	*httptest.Server
	mu       sync.Mutex
	now      time.Time
	slept    []time.Duration
	requests []*http.Request
	answers  []http.HandlerFunc // the last one repeats
	client   *Client
}

func newPeer(t *testing.T, answers ...http.HandlerFunc) *peer {
	t.Helper()
	p := &peer{now: noon, answers: answers}
	p.Server = httptest.NewServer(http.HandlerFunc(p.serve))
	t.Cleanup(p.Close)
	var err error
	p.client, err = NewClient(Options{
		Program: "winterstand/test", Contact: "grower@example.org", Now: p.clock,
		Sleep: func(_ context.Context, d time.Duration) error { p.slept = append(p.slept, d); return nil },
	})
	require.NoError(t, err)
	return p
}

func (p *peer) clock() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

func (p *peer) advance(d time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.now = p.now.Add(d)
}

func (p *peer) serve(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	p.requests = append(p.requests, r)
	answer := p.answers[0]
	if len(p.answers) > 1 {
		p.answers = p.answers[1:]
	}
	now := p.now
	p.mu.Unlock()
	w.Header().Set("Date", now.Format(http.TimeFormat))
	answer(w, r)
}

func (p *peer) get(v forecast.Validators) (Response, error) {
	return p.client.Get(context.Background(), Request{URL: p.URL + "/a", Accept: "application/geo+json", Validators: v})
}

// reply answers with a status, a content type and a body.
func reply(status int, kind, body string, headers ...string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header()["Content-Type"] = nil
		if kind != "" {
			w.Header().Set("Content-Type", kind)
		}
		for i := 0; i+1 < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		w.WriteHeader(status)
		_, _ = w.Write([]byte(body))
	}
}

var fine = reply(200, "application/geo+json", `{"a":1}`)

func TestNobodyToContactNoClient(t *testing.T) {
	for _, c := range []struct {
		contact string
		ok      bool
	}{
		{"grower@farm.example", true}, {"https://farm.example/winterstand", true},
		{"", false}, {"me", false}, {"a@b\r\nX: y", false}, {"Jo <jo@farm.example>", false}, {"ftp://x", false},
	} {
		_, err := NewClient(Options{Program: "winterstand/1", Contact: c.contact, Now: time.Now})
		assert.Equal(t, c.ok, err == nil, "%q: %v", c.contact, err)
	}
	_, err := NewClient(Options{Contact: "grower@farm.example", Now: time.Now})
	assert.Error(t, err, "no program")
	_, err = NewClient(Options{Program: "winterstand/1", Contact: "grower@farm.example"})
	assert.Error(t, err, "no clock")
}

func TestRequestHasManners(t *testing.T) {
	p := newPeer(t, fine)
	_, err := p.get(forecast.Validators{LastModified: "Mon, 28 Sep 2026 10:00:00 GMT and a bit", ETag: `W/"x"`})
	require.NoError(t, err)
	h := p.requests[0].Header
	assert.Equal(t, "winterstand/test (grower@example.org)", h.Get("User-Agent"))
	assert.Equal(t, []string{"application/geo+json"}, h["Accept"])
	assert.Equal(t, "gzip", h.Get("Accept-Encoding"))
	assert.Equal(t, "Mon, 28 Sep 2026 10:00:00 GMT and a bit", h.Get("If-Modified-Since"), "exactly as received")
	assert.Equal(t, `W/"x"`, h.Get("If-None-Match"))
	assert.Equal(t, http.MethodGet, p.requests[0].Method)
}

func TestAnswersAndWhatTheyMean(t *testing.T) {
	const problem = `{"type":"https://api.weather.gov/problems/UnexpectedProblem","title":"Unexpected Problem","status":500,"detail":"An unexpected problem has occurred.","correlationId":"16c91526"}`
	for _, c := range []struct {
		name   string
		answer http.HandlerFunc
		kind   error
		says   string
		asked  int // requests made
	}{
		{"good", fine, nil, "", 1},
		{"plain JSON", reply(200, "application/json; charset=UTF-8", "[1]"), nil, "", 1},
		{"no content type, JSON by its looks", reply(200, "", " {}"), nil, "", 1},
		{"no content type, not JSON", reply(200, "", "hello"), forecast.ErrUnusable, "neither a content type", 1},
		{"HTML with 200", reply(200, "text/html", "<html><title>Maintenance \n page</title>"), forecast.ErrUnusable, "HTML page titled “Maintenance page”", 1},
		{"HTML called JSON", reply(200, "application/json", "<!DOCTYPE html><body>"), forecast.ErrUnusable, "HTML page instead of data", 1},
		{"empty", reply(200, "application/json", " \n"), forecast.ErrUnusable, "empty", 1},
		{"text", reply(200, "text/plain", "{}"), forecast.ErrUnusable, "text/plain", 1},
		{"Latin-1", reply(200, "application/json; charset=iso-8859-1", "{}"), forecast.ErrUnusable, "iso-8859-1", 1},
		{"malformed type", reply(200, ";;", "{}"), forecast.ErrUnusable, "content type", 1},
		{"too long", reply(200, "application/json", strings.Repeat(" ", maxBody+1)), forecast.ErrUnusable, "8 MiB", 1},
		{"400", reply(400, "application/problem+json", `{"title":"Bad Request","detail":"Query parameter 'x'"}`), forecast.ErrRejected, "Query parameter", 1},
		{"400 with error and reason", reply(400, "application/json", `{"error":true,"reason":"Latitude must be in range"}`), forecast.ErrRejected, "Latitude must be", 1},
		{"403 of a CDN", reply(403, "text/html", "<HTML><HEAD>\n<TITLE>Access Denied</TITLE>"), forecast.ErrRefused, "Access Denied", 1},
		{"404", reply(404, "application/problem+json", `{"type":"urn:noaa:nws:api:InvalidPoint"}`), forecast.ErrNotFound, "(InvalidPoint)", 1},
		{"422", reply(422, "text/html", "outside"), forecast.ErrRejected, "HTTP 422", 1},
		{"429", reply(429, "text/plain", "slow down"), forecast.ErrLimited, "not again before 2026-01-12T12:01:00Z", 1},
		{"500 twice", reply(500, "application/problem+json", problem), forecast.ErrUnavailable, "Unexpected Problem: An unexpected problem has occurred. (UnexpectedProblem)", 2},
		{"502 of a gateway", reply(502, "text/html", "<html>\r\n<head><title>502 Bad Gateway</title></head>"), forecast.ErrUnavailable, "502 Bad Gateway", 2},
		{"503 with a time", reply(503, "", "", "Retry-After", "120"), forecast.ErrUnavailable, "12:02:00Z", 1},
		{"503 expired grid: takes hours", reply(503, "application/problem+json", `{"type":"https://api.weather.gov/problems/ForecastGridExpired"}`), forecast.ErrUnavailable, "ForecastGridExpired", 1},
		{"304 without anything stored, again and again", reply(304, "", ""), forecast.ErrUnusable, "nothing is stored", 2},
		{"301 to itself", reply(301, "", "", "Location", "/a"), forecast.ErrUnusable, "to itself", 1},
		{"301 in a loop", reply(301, "", "", "Location", "/a?x"), forecast.ErrUnusable, "redirect", 2},
		{"301 to another host", reply(301, "", "", "Location", "https://elsewhere.example/a"), forecast.ErrUnusable, "another host (elsewhere.example) refused", 1},
		{"301 to nowhere", reply(301, "", ""), forecast.ErrUnusable, "without a usable address", 1},
		{"broken off", cutShort, forecast.ErrUnavailable, "", 2},
		{"broken gzip", reply(200, "application/json", "not gzip", "Content-Encoding", "gzip"), forecast.ErrUnavailable, "", 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPeer(t, c.answer)
			r, err := p.get(forecast.Validators{})
			assert.Len(t, p.requests, c.asked)
			if c.kind == nil {
				require.NoError(t, err)
				assert.NotEmpty(t, r.Body)
				assert.Equal(t, noon, r.Fetched)
				assert.Empty(t, r.Warnings)
				return
			}
			require.ErrorIs(t, err, c.kind)
			assert.ErrorContains(t, err, c.says)
			assert.NotContains(t, err.Error(), "\n")
			e, ok := Detail(err)
			require.True(t, ok)
			assert.Equal(t, p.URL+"/a", e.URL)
		})
	}
}

// cutShort promises more than it sends.
func cutShort(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", "1000")
	_, _ = w.Write([]byte(`{"a":`))
}

func TestGzip(t *testing.T) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = z.Write([]byte(`{"packed":true}`))
	require.NoError(t, z.Close())
	p := newPeer(t, reply(200, "application/json", b.String(), "Content-Encoding", "gzip"))
	r, err := p.get(forecast.Validators{})
	require.NoError(t, err)
	assert.JSONEq(t, `{"packed":true}`, string(r.Body))
}

// A few kilobytes may unpack to a great many.
func TestGzipBombIsBounded(t *testing.T) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = z.Write(bytes.Repeat([]byte(" "), 2*maxBody))
	require.NoError(t, z.Close())
	p := newPeer(t, reply(200, "application/json", b.String(), "Content-Encoding", "gzip"))
	_, err := p.get(forecast.Validators{})
	assert.ErrorIs(t, err, forecast.ErrUnusable)
	assert.ErrorContains(t, err, "8 MiB")
}

func TestRelativeRedirectIsFollowedOnce(t *testing.T) {
	p := newPeer(t, reply(301, "application/problem+json", "{}", "Location", "/points/47.6553,-122.5354"), fine)
	_, err := p.get(forecast.Validators{LastModified: "x"})
	require.NoError(t, err)
	require.Len(t, p.requests, 2)
	assert.Equal(t, "/points/47.6553,-122.5354", p.requests[1].URL.Path)
	assert.Equal(t, "x", p.requests[1].Header.Get("If-Modified-Since"))
}

func TestNotModified(t *testing.T) {
	p := newPeer(t, reply(304, "", "", "Expires", noon.Add(30*time.Minute).Format(http.TimeFormat)))
	r, err := p.get(forecast.Validators{LastModified: "then", ETag: "e"})
	require.NoError(t, err)
	assert.True(t, r.NotModified)
	assert.Equal(t, "then", r.LastModified, "kept where the answer does not repeat it")
	assert.Equal(t, "e", r.ETag)
	assert.Equal(t, noon.Add(30*time.Minute), r.Expires, "the expiry moves")
}

func TestNotModifiedWithNothingStoredIsAskedAgain(t *testing.T) {
	p := newPeer(t, reply(304, "", ""), fine)
	r, err := p.get(forecast.Validators{})
	require.NoError(t, err)
	assert.NotEmpty(t, r.Body)
	require.Len(t, p.requests, 2)
	assert.Equal(t, "no-cache", p.requests[1].Header.Get("Cache-Control"))
}

func TestNothingIsAskedBeforeItExpires(t *testing.T) {
	p := newPeer(t, fine)
	v := forecast.Validators{LastModified: "m", Expires: noon.Add(time.Minute)}
	r, err := p.get(v)
	require.NoError(t, err)
	assert.True(t, r.NotModified)
	assert.Equal(t, v.Expires, r.Expires)
	assert.Empty(t, p.requests)
	p.advance(time.Minute)
	r, err = p.get(v)
	require.NoError(t, err)
	assert.False(t, r.NotModified)
	assert.Len(t, p.requests, 1)
}

func TestExpiry(t *testing.T) {
	at := func(d time.Duration) string { return noon.Add(d).Format(http.TimeFormat) }
	for _, c := range []struct {
		name    string
		headers []string
		want    time.Duration // zero: none
	}{
		{"nothing said", nil, 0},
		{"MET Norway's half hour", []string{"Expires", at(30*time.Minute + 41*time.Second)}, 30*time.Minute + 41*time.Second},
		{"max-age before Expires", []string{"Cache-Control", "public, max-age=481, s-maxage=3600", "Expires", at(time.Hour)}, 481 * time.Second},
		{"already old in a cache", []string{"Cache-Control", "max-age=481", "Age", "81"}, 400 * time.Second},
		{"the service's clock is an hour ahead", []string{"Date", at(time.Hour), "Expires", at(90 * time.Minute)}, 30 * time.Minute},
		{"absurd", []string{"Expires", at(10000 * time.Hour)}, longestExpires},
		{"absurd max-age", []string{"Cache-Control", "max-age=99999999999999"}, longestExpires},
		{"past", []string{"Expires", at(-time.Hour)}, 0},
		{"zero", []string{"Expires", "0"}, 0},
		{"no-cache", []string{"Cache-Control", "no-cache", "Expires", at(time.Hour)}, 0},
		{"nonsense", []string{"Cache-Control", "max-age=soon", "Expires", "tomorrow"}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPeer(t, reply(200, "application/json", "{}", c.headers...))
			r, err := p.get(forecast.Validators{})
			require.NoError(t, err)
			if c.want == 0 {
				assert.Zero(t, r.Expires)
				return
			}
			assert.Equal(t, noon.Add(c.want), r.Expires)
		})
	}
}

func TestDeprecationIsTold(t *testing.T) {
	p := newPeer(t, reply(203, "application/json", "{}", "Last-Modified", "x"))
	r, err := p.get(forecast.Validators{})
	require.NoError(t, err)
	require.Len(t, r.Warnings, 1)
	assert.Contains(t, r.Warnings[0], "203")
	assert.Empty(t, r.LastModified, "conditional requests do not work on 203")
}

func TestClockSkewIsTold(t *testing.T) {
	for _, c := range []struct {
		date, age string
		told      bool
	}{
		{noon.Add(4 * time.Minute).Format(http.TimeFormat), "", false},
		{noon.Add(-6 * time.Minute).Format(http.TimeFormat), "", true},
		{noon.Add(26 * time.Hour).Format(http.TimeFormat), "", true},
		{noon.Add(-6 * time.Minute).Format(http.TimeFormat), "360", false}, // that old in a cache
		{"yesterday", "", false},
	} {
		p := newPeer(t, reply(200, "application/json", "{}", "Date", c.date, "Age", c.age))
		r, err := p.get(forecast.Validators{})
		require.NoError(t, err)
		assert.Equal(t, c.told, len(r.Warnings) == 1, "%s: %v", c.date, r.Warnings)
	}
}

// After a refusal nothing is asked of the host for an hour, whatever the address.
func TestRefusalStopsAnHour(t *testing.T) {
	p := newPeer(t, reply(403, "text/html", "<title>Access Denied</title>"), fine)
	_, err := p.get(forecast.Validators{})
	require.ErrorIs(t, err, forecast.ErrRefused)
	at, ok := notBefore(err)
	require.True(t, ok)
	assert.Equal(t, noon.Add(time.Hour), at)
	assert.ErrorContains(t, err, "check the contact")
	p.advance(59 * time.Minute)
	_, err = p.client.Get(context.Background(), Request{URL: p.URL + "/b", Accept: "x"})
	require.ErrorIs(t, err, forecast.ErrRefused)
	assert.Len(t, p.requests, 1)
	p.advance(time.Minute)
	_, err = p.get(forecast.Validators{})
	require.NoError(t, err)
	assert.Len(t, p.requests, 2)
}

func TestLimitIsHonoured(t *testing.T) {
	for _, c := range []struct {
		header string
		want   time.Duration
	}{
		{"300", 5 * time.Minute}, {noon.Add(time.Hour).Format(http.TimeFormat), time.Hour}, {"", time.Minute}, {"soon", time.Minute}, {"9999999999", longestRetry}, {"-5", time.Minute},
	} {
		p := newPeer(t, reply(429, "", "", "Retry-After", c.header), fine)
		_, err := p.get(forecast.Validators{})
		require.ErrorIs(t, err, forecast.ErrLimited)
		at, _ := notBefore(err)
		assert.Equal(t, noon.Add(c.want), at, c.header)
		_, err = p.get(forecast.Validators{})
		require.ErrorIs(t, err, forecast.ErrLimited)
		assert.Len(t, p.requests, 1, "not asked again at once")
		p.advance(c.want)
		_, err = p.get(forecast.Validators{})
		assert.NoError(t, err)
	}
}

func TestPassingTroubleIsRepeatedOnce(t *testing.T) {
	p := newPeer(t, reply(502, "text/html", "<html>"), fine)
	_, err := p.get(forecast.Validators{})
	require.NoError(t, err)
	assert.Equal(t, []time.Duration{5 * time.Second}, p.slept)
}

// Each failure of one address keeps it waiting longer; other addresses go on.
func TestBackOff(t *testing.T) {
	var bad atomic.Bool
	bad.Store(true)
	p := newPeer(t, func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/a" && bad.Load() {
			w.WriteHeader(500)
			return
		}
		fine(w, r)
	})
	for i, wait := range []time.Duration{5 * time.Second, 30 * time.Second, 2 * time.Minute, 10 * time.Minute, 10 * time.Minute} {
		before := len(p.requests)
		_, err := p.get(forecast.Validators{})
		require.ErrorIs(t, err, forecast.ErrUnavailable)
		at, _ := notBefore(err)
		assert.Equal(t, p.clock().Add(wait), at, "failure %d", i+1)
		assert.Len(t, p.requests, before+2)
		_, err = p.get(forecast.Validators{})
		require.ErrorIs(t, err, forecast.ErrUnavailable)
		assert.ErrorContains(t, err, "not asked")
		assert.Len(t, p.requests, before+2, "waits")
		_, err = p.client.Get(context.Background(), Request{URL: p.URL + "/b", Accept: "x"})
		require.NoError(t, err, "one bad address does not close the host")
		p.advance(wait)
	}
	bad.Store(false)
	_, err := p.get(forecast.Validators{})
	require.NoError(t, err)
	bad.Store(true)
	_, err = p.get(forecast.Validators{})
	at, _ := notBefore(err)
	assert.Equal(t, p.clock().Add(5*time.Second), at, "a success starts over")
}

// Failures in a row, whatever the address, close the host; one try opens it.
func TestBreaker(t *testing.T) {
	var bad atomic.Bool
	bad.Store(true)
	p := newPeer(t, func(w http.ResponseWriter, r *http.Request) {
		if bad.Load() {
			w.WriteHeader(503)
			return
		}
		fine(w, r)
	})
	ask := func(i int) error {
		_, err := p.client.Get(context.Background(), Request{URL: fmt.Sprintf("%s/%d", p.URL, i), Accept: "x"})
		return err
	}
	for i := range trips {
		require.ErrorIs(t, ask(i), forecast.ErrUnavailable)
	}
	n := len(p.requests)
	err := ask(100)
	require.ErrorIs(t, err, forecast.ErrUnavailable)
	assert.Len(t, p.requests, n, "closed")
	at, _ := notBefore(err)
	assert.Equal(t, noon.Add(10*time.Minute), at)

	p.advance(10 * time.Minute)
	require.ErrorIs(t, ask(101), forecast.ErrUnavailable)
	assert.Len(t, p.requests, n+2, "one trial")
	require.ErrorIs(t, ask(102), forecast.ErrUnavailable)
	assert.Len(t, p.requests, n+2, "closed again")
	p.advance(10 * time.Minute)
	bad.Store(false)
	require.NoError(t, ask(103))
	require.NoError(t, ask(104))
}

func TestHostThatIsNotThere(t *testing.T) {
	p := newPeer(t, fine)
	p.Close()
	_, err := p.get(forecast.Validators{})
	require.ErrorIs(t, err, forecast.ErrUnavailable)
	assert.Equal(t, 1, strings.Count(err.Error(), p.URL), "the address is named once: %v", err)
}

func TestUnknownCertificate(t *testing.T) {
	server := httptest.NewTLSServer(fine)
	defer server.Close()
	server.Config.ErrorLog = nil
	p := newPeer(t, fine)
	_, err := p.client.Get(context.Background(), Request{URL: server.URL, Accept: "x"})
	require.ErrorIs(t, err, forecast.ErrUnavailable)
	assert.ErrorContains(t, err, "certificate")
}

type timeoutError struct{}

func (timeoutError) Error() string { return "took too long" }
func (timeoutError) Timeout() bool { return true }

type failing struct {
	n   int
	err error
}

func (f *failing) RoundTrip(*http.Request) (*http.Response, error) { f.n++; return nil, f.err }

// A time-out is not repeated in the same call: a round must not be held up.
func TestTimeoutIsLeftForLater(t *testing.T) {
	f := &failing{err: timeoutError{}}
	c, err := NewClient(Options{Program: "w/1", Contact: "a@b.example", Now: func() time.Time { return noon }, Transport: f})
	require.NoError(t, err)
	_, err = c.Get(context.Background(), Request{URL: "https://slow.example/", Accept: "x"})
	require.ErrorIs(t, err, forecast.ErrUnavailable)
	assert.Equal(t, 1, f.n)
	at, ok := notBefore(err)
	assert.True(t, ok)
	assert.Equal(t, noon.Add(5*time.Second), at)
}

func TestCancelledCallCountsForNothing(t *testing.T) {
	p := newPeer(t, fine)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := p.client.Get(ctx, Request{URL: p.URL + "/a", Accept: "x"})
	require.ErrorIs(t, err, context.Canceled)
	_, err = p.get(forecast.Validators{})
	assert.NoError(t, err, "no back-off")
}

func TestOneRequestInFlight(t *testing.T) {
	const callers = 8
	var flying, most atomic.Int32
	var begun sync.WaitGroup // callers
	begun.Add(callers)
	p := newPeer(t, func(w http.ResponseWriter, r *http.Request) {
		n := flying.Add(1)
		if n > most.Load() {
			most.Store(n)
		}
		begun.Wait() // all others want to fly by now
		for range 100 {
			runtime.Gosched()
		}
		flying.Add(-1)
		fine(w, r)
	})
	var all sync.WaitGroup
	for i := range callers {
		all.Go(func() {
			begun.Done()
			_, err := p.client.Get(context.Background(), Request{URL: fmt.Sprintf("%s/%d", p.URL, i), Accept: "x"})
			assert.NoError(t, err)
		})
	}
	all.Wait()
	assert.EqualValues(t, 1, most.Load())
}

func TestErrorKeepsItsCause(t *testing.T) {
	cause := errors.New("cause")
	err := fmt.Errorf("outer: %w", &Error{Kind: forecast.ErrUnusable, URL: "u", Cause: cause})
	assert.ErrorIs(t, err, cause)
	assert.ErrorIs(t, As(err, forecast.ErrMoved), forecast.ErrMoved)
	assert.NotErrorIs(t, As(err, forecast.ErrMoved), forecast.ErrUnusable)
	assert.Equal(t, cause, As(cause, forecast.ErrMoved))
	_, ok := notBefore(err)
	assert.False(t, ok)
	assert.ErrorIs(t, OutsideOr(&Error{Kind: forecast.ErrNotFound}), forecast.ErrOutside)
	assert.Equal(t, cause, OutsideOr(cause))
}

// notBefore is the earliest sensible repeat that an error names.
func notBefore(err error) (time.Time, bool) {
	var e *Error
	if !errors.As(err, &e) || e.RetryAfter.IsZero() {
		return time.Time{}, false
	}
	return e.RetryAfter, true
}
