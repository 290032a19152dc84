// Package browsertest looks at the whole service through a real browser:
// Debian's Chromium, driven over its debugging pipe, against the demo's farm on
// this machine. Tests only.
package browsertest

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"winterstand/internal/trial/chromium"
)

// tab is a page of a browser profile without cookies, and what it was seen to do.
type tab struct {
	testing.TB
	ctx context.Context

	mu       sync.Mutex
	requests []string
	broken   []string // what the browser complained of: policy, scripts
}

// open opens a tab in a fresh profile: nobody is signed in.
func open(t testing.TB) *tab {
	t.Helper()
	ctx := chromium.Open(t)
	b := &tab{TB: t, ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, b.hear))
	b.do(chromedp.EmulateViewport(1280, 900))
	return b
}

// hear keeps what the browser asks for and complains of.
func (b *tab) hear(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		b.requests = append(b.requests, e.Request.URL)
	case *log.EventEntryAdded:
		if e.Entry.Source != log.EntrySourceNetwork {
			b.broken = append(b.broken, fmt.Sprintf("%s: %s (%s)", e.Entry.Source, e.Entry.Text, e.Entry.URL))
		}
	case *runtime.EventExceptionThrown:
		b.broken = append(b.broken, "script: "+e.ExceptionDetails.Text)
	}
}

// complaints of the browser so far.
func (b *tab) complaints() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.broken...)
}

// strangers are the addresses asked for that are not of the given host. What an
// address holds in itself (the browser's own signs in its date fields) leaves
// for nowhere.
func (b *tab) strangers(host string) []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []string
	for _, r := range b.requests {
		if u, err := url.Parse(r); err != nil || u.Host != host && u.Scheme != "data" {
			out = append(out, r)
		}
	}
	return out
}

// forget what was heard so far.
func (b *tab) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.requests, b.broken = nil, nil
}

// well fails on an error; where the time is over it says whose.
func (b *tab) well(err error, what ...any) {
	b.Helper()
	if err != nil && b.ctx.Err() != nil {
		err = errors.Join(err, context.Cause(b.ctx))
	}
	require.NoError(b, err, what...)
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	b.well(chromedp.Do(b.ctx, steps...))
}

// goes to an address and gives the status.
func (b *tab) goes(address string) int {
	b.Helper()
	r, err := chromedp.Run(b.ctx, chromedp.NavigateResponse(address))
	b.well(err, address)
	return int(r.Status)
}

// path is where the tab is.
func (b *tab) path() string {
	b.Helper()
	at, err := chromedp.Run(b.ctx, chromedp.Location())
	b.well(err)
	u, err := url.Parse(at)
	b.well(err)
	return u.RequestURI()
}

// text is what stands in the first element that fits, with single spaces.
func (b *tab) text(css string) string {
	b.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.TextContent(chromedp.CSS(css)))
	b.well(err, css)
	return strings.Join(strings.Fields(s), " ")
}

// wide sets the width of the window, of a phone or at a desk.
func (b *tab) wide(width int64) {
	b.Helper()
	if width < 600 {
		b.do(chromedp.EmulateViewport(width, 740, chromedp.EmulateMobile))
		return
	}
	b.do(chromedp.EmulateViewport(width, 800))
}

// scheme asks for light or dark pages.
func (b *tab) scheme(name string) {
	b.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
	b.well(err)
}

// withoutScript forbids pages to run any.
func (b *tab) withoutScript() {
	b.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	b.well(err)
}

// found evaluates an expression over the page; it runs beside the page, not in
// it, so it is there even where pages may run nothing.
func found[T any](b *tab, expression string) T {
	b.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	b.well(err, "%.200s", expression)
	return v
}
