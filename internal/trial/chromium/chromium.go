// Package chromium is the browser of the tests: Debian's Chromium, driven over
// its debugging pipe, one process for all tests of a package. Tests only.
package chromium

import (
	"context"
	"os"
	"os/exec"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"winterstand/internal/trial/patience"
)

// Required is the variable that turns a missing browser from a skip into a failure.
const Required = "WINTERSTAND_REQUIRE_BROWSER"

// browser is one Chromium; each test has a profile of its own in it.
type browser struct {
	once sync.Once
	ctx  context.Context
	stop func()
	err  error
}

var shared = &browser{stop: func() {}}

// Main runs the tests of a package and ends the browser after them.
func Main(m *testing.M) int {
	defer func() { shared.stop() }()
	return m.Run()
}

// Need finds the browser, or says loudly that nothing was checked.
func Need(t testing.TB) (path string) {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err == nil {
		return path
	}
	const how = "chromium is missing: install the Debian package chromium"
	if os.Getenv(Required) == "1" {
		t.Fatal(how)
	}
	t.Skipf("NOT CHECKED: %s (%s=1 makes this a failure)", how, Required)
	return ""
}

func (b *browser) start(path string) {
	folder, err := os.MkdirTemp("", "winterstand-browser-")
	if err != nil {
		b.err = err
		return
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(folder), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("lang", "en-US"))
	ctx, end := chromedp.NewExecAllocator(context.Background(), options...)
	b.ctx, _ = chromedp.NewContext(ctx)
	b.stop = func() {
		_ = chromedp.Cancel(b.ctx)
		end()
		_ = os.RemoveAll(folder)
	}
	b.err = chromedp.Do(b.ctx)
}

// bounds of the work with one tab.
const bounds = 3

// Open opens a tab in a fresh profile, in which nobody is signed in, until the
// test ends. When it takes too long, the context's cause says so.
func Open(t testing.TB) context.Context {
	t.Helper()
	path := Need(t)
	shared.once.Do(func() { shared.start(path) })
	require.NoError(t, shared.err, "start chromium")
	ctx, stop := chromedp.NewContext(shared.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(stop)
	return patience.Within(t, ctx, bounds, "what the browser does in "+t.Name())
}
