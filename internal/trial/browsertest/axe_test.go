package browsertest

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/trial/npmtest"
)

// axeCore is the text of axe-core, Deque's checker of accessibility, from
// testdata/npm.
func axeCore(t *testing.T) string {
	t.Helper()
	npmtest.Need(t)
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "npm", "node_modules", "axe-core", "axe.min.js"))
	require.NoError(t, err)
	return string(text)
}

// violation is what axe-core found.
type violation struct {
	ID, Impact, Help string
	Nodes            []struct{ HTML, Why string }
}

// axeRun asks for all of WCAG 2.0 to 2.2, levels A and AA, and good practice.
const axeRun = `axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'], resultTypes: ['violations'], preload: false})
	.then(r => r.violations.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.slice(0, 3).map(n => ({HTML: n.html, Why: n.failureSummary}))})))`

// violations of the page as it stands.
func violations(b *tab, axe string) []violation {
	b.Helper()
	if !found[bool](b, `!!window.axe`) {
		found[bool](b, axe+`; true`)
	}
	return found[[]violation](b, axeRun)
}

// serious fails on what axe-core calls serious or critical, and tells the rest.
func (l *lookout) serious(b *tab, name string) {
	l.Helper()
	for _, v := range violations(b, l.axe) {
		if v.Impact == "serious" || v.Impact == "critical" {
			assert.Fail(l, "accessibility", "%s: %+v", name, v)
			continue
		}
		l.Logf("%s: %s: %+v", name, v.Impact, v)
	}
}

// The other tests say that axe-core found nothing. This one shows that it would.
func TestAxeSeesWhatIsWrong(t *testing.T) {
	axe := axeCore(t)
	b := open(t)
	b.goes(scripted(t))
	var ids []string
	for _, v := range violations(b, axe) {
		ids = append(ids, v.ID)
	}
	assert.Contains(t, ids, "html-has-lang")
}
