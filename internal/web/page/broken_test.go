package page

import (
	"net/http"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/store/storetest"
)

// variable is what differs between two answers that say the same.
var variable = regexp.MustCompile(`name="(csrf|key)" value="[^"]*"`)

// A page whose book fails it anywhere says so: half a page that looks whole would
// be taken for all there is.
func TestAPageIsWholeOrBroken(t *testing.T) {
	w := newWorld(t)
	paths := w.full()
	g := w.grower()
	whole := map[string]string{}
	for _, path := range paths {
		whole[path] = variable.ReplaceAllString(g.get(path).is(200).body, "")
	}
	broken := map[string]int{}
	storetest.EachTableGone(t, w.store.DB(), func(table string) {
		for _, path := range paths {
			r := g.get(path)
			if r.status == http.StatusOK {
				assert.Equal(t, plain(whole[path]), plain(variable.ReplaceAllString(r.body, "")), "%s without the table %s", path, table)
				continue
			}
			assert.Equal(t, http.StatusInternalServerError, r.status, "%s without the table %s", path, table)
			broken[table]++
		}
	})
	assert.Len(t, paths, broken["session"], "who asks cannot be told, not even behind the links of messages")
	assert.Greater(t, broken["bed"], 10)
}
