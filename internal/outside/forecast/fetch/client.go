// Package fetch is what every public forecast source shares towards its service:
// one polite HTTP client, and the reading of labels, layers and problems.
package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/mail"
	"net/url"
	"strings"
	"time"

	"winterstand/internal/forecast"
)

// Manners every request keeps. The first two are own defaults wide of what the
// services send (NWS gridpoints 130–230 kB).
const (
	maxBody   = 8 << 20
	timeout   = 30 * time.Second
	firstWait = 5 * time.Second // before the one repeat within a call
	stopFor   = time.Hour       // after a refusal (403)
)

// Options of a client.
type Options struct {
	Program   string            // "winterstand/1.0"
	Contact   string            // mail address or page of who runs this installation; required by the services' terms
	Now       func() time.Time  // required
	Transport http.RoundTripper // nil: http.DefaultTransport
	// Sleep waits before the single repeat of a request that met a server
	// error; nil: a timer.
	Sleep func(ctx context.Context, d time.Duration) error
}

// Client speaks HTTP to one source with the manners public services ask for:
// it identifies itself, asks one thing at a time per host, asks conditionally,
// keeps away while told to, and reads no more than it must.
type Client struct {
	agent string
	now   func() time.Time
	sleep func(ctx context.Context, d time.Duration) error
	http  *http.Client
	gates gates
}

// NewClient refuses to make a client that does not say whom to contact: the
// services block anonymous programs.
func NewClient(o Options) (*Client, error) {
	if err := checkContact(o.Contact); err != nil {
		return nil, err
	}
	if o.Program == "" || strings.ContainsAny(o.Program, "\r\n()") || o.Now == nil {
		return nil, errors.New("forecast client: needs a program name and a clock")
	}
	if o.Sleep == nil {
		o.Sleep = sleep
	}
	return &Client{
		agent: fmt.Sprintf("%s (%s)", o.Program, o.Contact),
		now:   o.Now,
		sleep: o.Sleep,
		http: &http.Client{
			Transport: o.Transport, Timeout: timeout,
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}, nil
}

func checkContact(contact string) error {
	if !strings.ContainsAny(contact, "\r\n()") {
		if a, err := mail.ParseAddress(contact); err == nil && a.Address == contact {
			return nil
		}
		if u, err := url.Parse(contact); err == nil && (u.Scheme == "https" || u.Scheme == "http") && u.Host != "" {
			return nil
		}
	}
	return fmt.Errorf("contact %q: must be a mail address or a web page of whoever runs this installation; public forecast services refuse programs that name nobody", contact)
}

func sleep(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

// Now is the client's clock.
func (c *Client) Now() time.Time { return c.now() }

// Request is one GET.
type Request struct {
	URL        string
	Accept     string              // one explicit media type
	Validators forecast.Validators // of the stored document, if there is one
}

// Response is a good answer.
type Response struct {
	Body         []byte // empty when NotModified
	NotModified  bool
	Fetched      time.Time
	Expires      time.Time
	LastModified string
	ETag         string
	Warnings     []string
}

// Document is the response as a document yet without forecast.
func (r Response) Document(c forecast.Cell) forecast.Document {
	return forecast.Document{
		Cell: c, Fetched: r.Fetched, Expires: r.Expires, LastModified: r.LastModified, ETag: r.ETag,
		NotModified: r.NotModified, Warnings: r.Warnings,
	}
}

// Get makes one request. A document that has not expired yet is not asked for
// again. A server error or a broken connection is repeated once after five
// seconds; whatever then still fails comes back as an *Error with the time of
// the next sensible try, and earlier calls fail without a request.
func (c *Client) Get(ctx context.Context, r Request) (Response, error) {
	if now := c.now(); now.Before(r.Validators.Expires) {
		v := r.Validators
		return Response{NotModified: true, Fetched: now, Expires: v.Expires, LastModified: v.LastModified, ETag: v.ETag}, nil
	}
	u, err := url.Parse(r.URL)
	if err != nil {
		return Response{}, &Error{Kind: forecast.ErrRejected, URL: plain(r.URL), Reason: "not an address"}
	}
	g := c.gates.of(u.Host)
	if err := g.enter(ctx); err != nil {
		return Response{}, &Error{Kind: forecast.ErrUnavailable, URL: r.URL, Cause: err}
	}
	defer g.leave()
	if err := g.closed(r.URL, c.now()); err != nil {
		return Response{}, err
	}
	resp, err := c.twice(ctx, r)
	if ctx.Err() == nil {
		err = g.note(r.URL, err, c.now())
	}
	return resp, err
}

func (c *Client) twice(ctx context.Context, r Request) (Response, error) {
	resp, err := c.once(ctx, r)
	var e *Error
	if !errors.As(err, &e) || !repeatable(e) {
		return resp, err
	}
	if c.sleep(ctx, firstWait) != nil {
		return resp, err
	}
	return c.once(ctx, r)
}

// repeatable: short-lived trouble, by its looks. Time-outs are left for later,
// so that a round is not held up, and so is an expired grid, which takes hours.
func repeatable(e *Error) bool {
	if !errors.Is(e, forecast.ErrUnavailable) || !e.RetryAfter.IsZero() || isTimeout(e) {
		return false
	}
	return e.Problem == nil || e.Problem.Name() != "ForecastGridExpired"
}

func isTimeout(err error) bool {
	var t interface{ Timeout() bool }
	return errors.As(err, &t) && t.Timeout() || errors.Is(err, context.Canceled)
}

// once sends the request, and once more when the answer is a 304 although
// nothing was stored.
func (c *Client) once(ctx context.Context, r Request) (Response, error) {
	resp, err := c.exchange(ctx, r, false)
	if err == nil && resp.NotModified && !r.Validators.Stored() {
		resp, err = c.exchange(ctx, r, true)
		if err == nil && resp.NotModified {
			return Response{}, &Error{Kind: forecast.ErrUnusable, URL: r.URL, Status: http.StatusNotModified, Reason: "nothing is stored, yet the service answers “not modified”"}
		}
	}
	return resp, err
}

func (c *Client) exchange(ctx context.Context, r Request, fresh bool) (Response, error) {
	from := r.URL
	for range 2 {
		res, err := c.send(ctx, from, r, fresh)
		if err != nil {
			return Response{}, &Error{Kind: forecast.ErrUnavailable, URL: r.URL, Cause: withoutURL(err)}
		}
		if !isRedirect(res.StatusCode) {
			return c.read(r, res)
		}
		drain(res)
		to, err := redirectTarget(from, res.Header.Get("Location"))
		if err != nil {
			return Response{}, &Error{Kind: forecast.ErrUnusable, URL: r.URL, Status: res.StatusCode, Cause: err}
		}
		from = to
	}
	return Response{}, &Error{Kind: forecast.ErrUnusable, URL: r.URL, Reason: "redirected more than once"}
}

func (c *Client) send(ctx context.Context, address string, r Request, fresh bool) (*http.Response, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return nil, err
	}
	req.Header.Set("User-Agent", c.agent)
	req.Header.Set("Accept", r.Accept)
	if r.Validators.LastModified != "" {
		req.Header.Set("If-Modified-Since", r.Validators.LastModified)
	}
	if r.Validators.ETag != "" {
		req.Header.Set("If-None-Match", r.Validators.ETag)
	}
	if fresh {
		req.Header.Set("Cache-Control", "no-cache")
	}
	return c.http.Do(req)
}

// withoutURL takes the address out of net/http's error, which ours names already.
func withoutURL(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}

func isRedirect(status int) bool {
	switch status {
	case http.StatusMovedPermanently, http.StatusFound, http.StatusSeeOther, http.StatusTemporaryRedirect, http.StatusPermanentRedirect:
		return true
	}
	return false
}

func redirectTarget(from, location string) (string, error) {
	base, err := url.Parse(from)
	if err != nil {
		return "", err
	}
	to, err := base.Parse(location)
	switch {
	case err != nil || location == "":
		return "", fmt.Errorf("redirect without a usable address (%q)", plain(location))
	case to.Host != base.Host || to.Scheme != base.Scheme:
		return "", fmt.Errorf("redirect to another host (%s) refused", plain(to.Host))
	case to.String() == base.String():
		return "", errors.New("redirect to itself")
	}
	return to.String(), nil
}

func drain(res *http.Response) {
	_, _ = io.CopyN(io.Discard, res.Body, 64<<10)
	_ = res.Body.Close()
}
