package sms

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"
)

const (
	answerLimit = 64 << 10      // bytes read of an answer
	longestWait = time.Hour     // a Retry-After beyond it is taken for this long
	shownLimit  = 200           // characters of an answer shown in an error
	userAgent   = "winterstand" // names the sender of the call
)

// Text is one short message.
type Text struct {
	To   string // E.164: +15555550123
	Text string
	Key  string // the same on every try; the gateway can tell a repeat by it
}

// Gateway sends texts. It may be used from several goroutines.
type Gateway struct {
	settings Settings
	form     form
	success  codes
	body     *regexp.Regexp
	client   *http.Client
	now      func() time.Time

	mu      sync.Mutex
	resumes time.Time // before it the gateway has asked to be left alone
}

// New checks the settings and renders a sample; an error names the key and what
// would be right. Nothing is called yet.
func New(s Settings) (*Gateway, error) {
	s = s.withDefaults()
	if err := s.check(); err != nil {
		return nil, err
	}
	f, err := parseForm(s)
	if err != nil {
		return nil, err
	}
	if err := f.try(); err != nil {
		return nil, err
	}
	g := &Gateway{settings: s, form: f, now: time.Now}
	if g.success, err = parseCodes(s.Success); err != nil {
		return nil, err
	}
	if g.body, err = regexp.Compile(s.SuccessBody); err != nil {
		return nil, fmt.Errorf("sms success_body: %w", err)
	}
	g.client = &http.Client{Timeout: s.Timeout, CheckRedirect: stay}
	return g, nil
}

// stay follows no redirect: the call carries numbers and secrets.
func stay(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }

// Refusal is an answer of the gateway that is no success.
type Refusal struct {
	Status int           // HTTP status; 0: not called, it has asked to wait
	Answer string        // its beginning, on one line
	After  time.Duration // how long it asks to wait; 0: it did not say
}

// Error says the status and the beginning of the answer.
func (r *Refusal) Error() string {
	if r.Status == 0 {
		return fmt.Sprintf("gateway has asked to wait another %s", r.After.Round(time.Second))
	}
	s := fmt.Sprintf("gateway answered %d %s", r.Status, http.StatusText(r.Status))
	if r.Answer != "" {
		s += fmt.Sprintf(": %q", r.Answer)
	}
	if r.Status/100 == 3 {
		s += "; redirects are not followed, set sms url to the final address"
	}
	return s
}

var e164 = regexp.MustCompile(`^\+[1-9]\d{6,14}$`)

// Send hands one text to the gateway. After an error, retry says whether the
// same text may be tried again: not for a number that is none, nor where the
// gateway refuses the message (400, 403, 404, 422 and other 4xx); but after 401,
// 402, 408, 425, 429, any 3xx and 5xx, no connection or no answer in time, and an
// answer that does not match the success rule.
func (g *Gateway) Send(ctx context.Context, t Text) (retry bool, err error) {
	if !e164.MatchString(t.To) {
		return false, fmt.Errorf("text %s: number %q must be like +15555550123", t.Key, t.To)
	}
	if t.Text == "" || t.Key == "" {
		return false, fmt.Errorf("text %q: has no text or no key", t.Key)
	}
	if wait := g.wait(); wait > 0 {
		return true, fmt.Errorf("text %s: %w", t.Key, &Refusal{After: wait})
	}
	r, err := g.form.render(fields{To: t.To, Text: t.Text, Key: t.Key, From: g.settings.From})
	if err != nil {
		return false, err
	}
	if retry, err := g.call(ctx, r); err != nil {
		return retry, fmt.Errorf("text %s: %w", t.Key, err)
	}
	return false, nil
}

func (g *Gateway) call(ctx context.Context, r request) (retry bool, err error) {
	var body io.Reader
	if r.body != "" {
		body = strings.NewReader(r.body)
	}
	req, err := http.NewRequestWithContext(ctx, g.settings.Method, r.url, body)
	if err != nil {
		return false, bare(err)
	}
	req.Header = r.headers
	if req.Header.Get("User-Agent") == "" {
		req.Header.Set("User-Agent", userAgent)
	}
	resp, err := g.client.Do(req)
	if err != nil {
		return true, fmt.Errorf("call gateway %s: %w", req.URL.Host, bare(err))
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(io.LimitReader(resp.Body, answerLimit))
	if err != nil && g.settings.SuccessBody != "" {
		return true, fmt.Errorf("read answer of gateway %s: %w", req.URL.Host, bare(err))
	}
	return g.judge(resp, answer)
}

// bare takes the address, which may hold a password, out of an error.
func bare(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}

func (g *Gateway) judge(resp *http.Response, answer []byte) (retry bool, err error) {
	if g.success.hold(resp.StatusCode) && g.body.Match(answer) {
		return false, nil
	}
	refusal := &Refusal{Status: resp.StatusCode, Answer: shown(answer)}
	if resp.StatusCode == http.StatusTooManyRequests || resp.StatusCode == http.StatusServiceUnavailable {
		refusal.After = g.pause(resp.Header.Get("Retry-After"))
	}
	return again(resp.StatusCode), refusal
}

func again(status int) bool {
	switch status {
	case http.StatusUnauthorized, http.StatusPaymentRequired, http.StatusProxyAuthRequired,
		http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests:
		return true
	}
	return status/100 != 4
}

// pause reads Retry-After (RFC 9110, 10.2.3: seconds or a date) and leaves the
// gateway alone for as long.
func (g *Gateway) pause(header string) time.Duration {
	wait := time.Duration(0)
	if seconds, err := strconv.Atoi(strings.TrimSpace(header)); err == nil {
		wait = time.Duration(min(max(seconds, 0), int(longestWait/time.Second))) * time.Second
	} else if at, err := http.ParseTime(header); err == nil {
		wait = min(max(at.Sub(g.now()), 0), longestWait)
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if until := g.now().Add(wait); until.After(g.resumes) {
		g.resumes = until
	}
	return wait
}

func (g *Gateway) wait() time.Duration {
	g.mu.Lock()
	defer g.mu.Unlock()
	return max(g.resumes.Sub(g.now()), 0)
}

func shown(answer []byte) string {
	s := strings.Join(strings.Fields(strings.ToValidUTF8(string(answer), "?")), " ")
	if r := []rune(s); len(r) > shownLimit {
		return string(r[:shownLimit]) + "…"
	}
	return s
}
