package browsertest

import (
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// hand is how somebody works a page.
type hand interface {
	// fill types into a field; choose picks an entry of a list by its first letters.
	fill(b *tab, css, text string)
	choose(b *tab, css, label string)
	// press follows a link or sends a form, and waits for the page that comes.
	press(b *tab, css string)
}

// pointer is a mouse or a finger, with a keyboard for the words.
type pointer struct{}

func (pointer) fill(b *tab, css, text string) {
	b.Helper()
	b.do(chromedp.Click(chromedp.CSS(css)), chromedp.KeyEvent(text))
}

func (pointer) choose(b *tab, css, label string) {
	b.Helper()
	b.do(chromedp.SendKeys(chromedp.CSS(css), label))
}

func (pointer) press(b *tab, css string) {
	b.Helper()
	_, err := chromedp.RunResponse(b.ctx, chromedp.Click(chromedp.CSS(css)))
	b.well(err, css)
}

// keys is a keyboard alone. Every place it stops at must show that it is there.
type keys struct{ steps int }

// mostSteps with the tabulator to anything on a page.
const mostSteps = 150

// to goes on with the tabulator until the focus is where it should be.
func (k *keys) to(b *tab, css string) {
	b.Helper()
	found[bool](b, looks+`; remember()`)
	for range mostSteps {
		if at := k.step(b, css); at.There {
			return
		}
	}
	require.Fail(b, "out of reach for the keyboard", "%s: %s", b.path(), css)
}

// step is one with the tabulator. Nowhere is the end of the page; the next step
// is its beginning.
func (k *keys) step(b *tab, css string) focus {
	b.Helper()
	b.do(chromedp.KeyEvent(kb.Tab))
	k.steps++
	at := found[focus](b, looks+`; focused(`+quoted(css)+`)`)
	require.Empty(b, at.Wrong, "%s: focus on %s", b.path(), at.What)
	return at
}

// around goes once through everything on the page and names what it missed.
func (k *keys) around(b *tab) []string {
	b.Helper()
	found[bool](b, looks+`; remember()`)
	for range mostSteps {
		if at := k.step(b, "nothing"); at.Nowhere {
			return found[[]string](b, looks+`; unreached()`)
		}
	}
	require.Fail(b, "the keyboard does not get out again", b.path())
	return nil
}

func (k *keys) fill(b *tab, css, text string) {
	b.Helper()
	k.to(b, css)
	b.do(chromedp.KeyEvent(text))
}

func (k *keys) choose(b *tab, css, label string) { k.fill(b, css, label) }

func (k *keys) press(b *tab, css string) {
	b.Helper()
	k.to(b, css)
	_, err := chromedp.RunResponse(b.ctx, chromedp.KeyEvent(kb.Enter))
	b.well(err, css)
}
