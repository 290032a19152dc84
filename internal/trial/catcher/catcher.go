// Package catcher is a mail server and a text-message gateway on this machine
// that deliver nothing and keep what arrives, with a plain page listing it. The
// demonstration and the tests send to it.
package catcher

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"

	"winterstand/internal/outside/serving"
)

// Options of Start. Both addresses must be on loopback; port 0 takes a free one.
type Options struct {
	SMTPAddr string           // empty: 127.0.0.1:0
	HTTPAddr string           // gateway and pages; empty: 127.0.0.1:0
	Now      func() time.Time // empty: time.Now
	Keep     int              // mails and texts kept, the oldest go first; 0: 5000
}

// Failure is what the next arrivals meet.
type Failure string

// Failures.
const (
	Later Failure = "later" // refused for now: SMTP 451, HTTP 503; nothing is kept
	Never Failure = "never" // refused for good: SMTP 554, HTTP 422; nothing is kept
	Drop  Failure = "drop"  // kept, but the line breaks before the answer
)

// Catcher keeps what arrives until it is closed.
type Catcher struct {
	options Options
	mail    *serving.Running
	web     *serving.Running

	mu         sync.Mutex
	mails      []Mail
	texts      []Text
	mailCounts map[string]int
	textCounts map[string]int
	seenMails  int
	seenTexts  int
	failMails  []Failure
	failTexts  []Failure
}

// Start listens and serves until ctx ends or Close is called. Errors: an address
// that is not on loopback or is taken.
func Start(ctx context.Context, o Options) (*Catcher, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Keep == 0 {
		o.Keep = 5000
	}
	mail, err := listen("mail", o.SMTPAddr)
	if err != nil {
		return nil, err
	}
	web, err := listen("gateway", o.HTTPAddr)
	if err != nil {
		return nil, errors.Join(err, mail.Close())
	}
	c := &Catcher{options: o, mailCounts: map[string]int{}, textCounts: map[string]int{}}
	c.mail = serving.Start(mail, c.mailServer())
	c.web = serving.Start(web, &http.Server{Handler: c.Handler(), ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second})
	context.AfterFunc(ctx, func() { _ = c.Close() })
	return c, nil
}

func listen(what, addr string) (net.Listener, error) {
	if addr == "" {
		addr = "127.0.0.1:0"
	}
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("catch %s at %q: %w", what, addr, err)
	}
	if !loopback(host) {
		return nil, fmt.Errorf("catch %s at %q: must be on loopback, such as 127.0.0.1:0", what, addr)
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("catch %s: %w", what, err)
	}
	return l, nil
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Close stops both servers and waits for them. What was caught stays readable.
func (c *Catcher) Close() error { return errors.Join(c.web.Close(), c.mail.Close()) }

// SMTPAddr is host:port of the mail server; it wants no encryption and no password.
func (c *Catcher) SMTPAddr() string { return c.mail.Addr().String() }

// SMTPPort is its port.
func (c *Catcher) SMTPPort() int { return c.mail.Addr().(*net.TCPAddr).Port }

// URL is the address of the pages.
func (c *Catcher) URL() string { return "http://" + c.web.Addr().String() + "/" }

// GatewayURL is where texts are posted: a JSON object or a form with the fields
// to, text and, if wished, from; the key stands in the header Idempotency-Key.
func (c *Catcher) GatewayURL() string { return c.URL() + "send" }

// Mails gives what arrived by mail, oldest first.
func (c *Catcher) Mails() []Mail {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.mails)
}

// Texts gives what arrived at the gateway, oldest first.
func (c *Catcher) Texts() []Text {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.texts)
}

// MailCounts tells how often each Message-ID was taken; more than once is a repeat.
func (c *Catcher) MailCounts() map[string]int { return c.counts(c.mailCounts) }

// TextCounts tells how often each Idempotency-Key was taken.
func (c *Catcher) TextCounts() map[string]int { return c.counts(c.textCounts) }

func (c *Catcher) counts(of map[string]int) map[string]int {
	c.mu.Lock()
	defer c.mu.Unlock()
	m := make(map[string]int, len(of))
	for k, n := range of {
		m[k] = n
	}
	return m
}

// FailMails lets the next n mails meet a failure, after those told before.
func (c *Catcher) FailMails(n int, how Failure) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.failMails = append(c.failMails, slices.Repeat([]Failure{how}, n)...)
}

// FailTexts lets the next n texts meet a failure, after those told before.
func (c *Catcher) FailTexts(n int, how Failure) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.failTexts = append(c.failTexts, slices.Repeat([]Failure{how}, n)...)
}

func next(queue *[]Failure) Failure {
	if len(*queue) == 0 {
		return ""
	}
	how := (*queue)[0]
	*queue = (*queue)[1:]
	return how
}

// latest keeps the last n of a list.
func latest[T any](all []T, n int) []T {
	if len(all) <= n {
		return all
	}
	return slices.Clone(all[len(all)-n:])
}
