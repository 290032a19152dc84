package page

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/trial/chromium"
	"winterstand/internal/trial/npmtest"
)

func TestMain(m *testing.M) { os.Exit(chromium.Main(m)) }

// schemed asks for light or dark pages, as somebody has set who likes them.
func schemed(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
	require.NoError(t, err)
}

// violation is what axe-core found.
type violation struct {
	ID, Impact, Help string
	Nodes            []struct{ HTML, FailureSummary string }
}

// axeRules: all of WCAG 2.0 to 2.2, levels A and AA, and the rules of good practice.
const axeRules = `axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'], resultTypes: ['violations'], preload: false})
	.then(r => r.violations.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.map(n => ({HTML: n.html, FailureSummary: n.failureSummary}))})))`

// A grower signs in, answers and looks around in a real browser without script,
// at the width of a small phone; axe-core looks at each page.
func TestPagesInARealBrowser(t *testing.T) {
	t.Parallel()
	npmtest.Need(t)
	axe, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "npm", "node_modules", "axe-core", "axe.min.js"))
	require.NoError(t, err)
	for _, scheme := range []string{"light", "dark"} {
		t.Run(scheme, func(t *testing.T) {
			w := newWorld(t)
			paths := w.full()
			if os.Getenv(npmtest.Required) != "1" {
				paths = append(paths[:1:1], paths[len(emptyPaths())], paths[len(paths)-3]) // the first page, a bed, the answer page
			}
			ctx := chromium.Open(t)
			schemed(t, ctx, scheme)
			dark, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`matchMedia('(prefers-color-scheme: dark)').matches`))
			require.NoError(t, err)
			require.Equal(t, scheme == "dark", dark, "what the page is told")
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(360, 740), chromedp.Navigate(w.server.URL+"/signin"),
				chromedp.SendKeys(chromedp.CSS("#token"), w.token), chromedp.Click(chromedp.CSS(`form[action="/signin/token"] button`)), chromedp.WaitVisible(chromedp.CSS("#due"))))
			for _, path := range paths {
				require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.server.URL+path)), path)
				looked(t, ctx, path, string(axe))
			}
		})
	}
}

func looked(t *testing.T, ctx context.Context, path, axe string) {
	t.Helper()
	wide, err := chromedp.Run(ctx, chromedp.Evaluate[int64](`document.documentElement.scrollWidth`))
	require.NoError(t, err)
	assert.LessOrEqual(t, wide, int64(360), "%s is wider than a small phone", path)
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]violation](axe+";"+axeRules, chromedp.EvalAwaitPromise))
	require.NoError(t, err, path)
	assert.Empty(t, found, path)
}

func TestAnAnswerIsGivenWithoutScript(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b, _, _, link := w.asked()
	ctx := chromium.Open(t)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.server.URL+link),
		chromedp.Click(chromedp.CSS(`button[value="leave_it"]`)), chromedp.WaitVisible(chromedp.CSS(".said"))))
	said, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector('.said').textContent`))
	require.NoError(t, err)
	assert.Contains(t, said, "B1 is left.")
	got, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.True(t, got.QuietUntil.Known())
}
