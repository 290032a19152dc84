package inbound

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store/storetest"
)

// A reply that could not be carried out wholly is not taken: the gateway brings it
// again, and then it is carried out once.
func TestAReplyIsTakenWhollyOrBroughtAgain(t *testing.T) {
	muted := func(want bool) func(*line, farm.Bed) bool {
		return func(l *line, _ farm.Bed) bool {
			all, err := l.store.RecipientsByPhone(l.Context(), annPhone)
			require.NoError(l, err)
			return len(all) == 1 && all[0].MutedSMS == want
		}
	}
	answered := func(l *line, b farm.Bed) bool { return len(l.answers(b)) == 1 }
	for _, c := range []struct {
		text   string
		done   func(*line, farm.Bed) bool
		needed int // tables
	}{
		{"harvested B4", func(l *line, b farm.Bed) bool { return l.now(b).ClearedAt.Known() && answered(l, b) }, 5},
		{"leave it", func(l *line, b farm.Bed) bool { return l.now(b).QuietUntil.Known() && answered(l, b) }, 5},
		{"seen", answered, 5},
		{"stop", muted(true), 3},
		{"start", muted(false), 3},
		{"what?", func(*line, farm.Bed) bool { return true }, 3},
	} {
		needed := 0
		for i, table := range []string{"farm", "field", "bed", "recipient", "notice", "message", "recipient", "bed", "answer", "reply", "once", "memo"} {
			broken := storetest.TableGone
			if i >= 6 {
				broken = storetest.TableShut // what a reply may write
			}
			l := newLine(t)
			ann, b4 := l.ann(), l.bed("B4")
			l.sent(ann, b4)
			if c.text == "start" {
				l.says("stop")
			}
			before, texts, code := storetest.Contents(t, l.store.DB()), len(l.caught.Texts()), 0
			broken(t, l.store.DB(), table, func() { code = l.post(annPhone, c.text, "again").Code })
			if code != http.StatusOK {
				needed++
				assert.GreaterOrEqual(t, code, 500, "%s without %s", c.text, table)
				assert.Equal(t, before, storetest.Contents(t, l.store.DB()), "%s half done without %s", c.text, table)
				assert.Len(t, l.caught.Texts(), texts, "%s: nobody is told so without %s", c.text, table)
				require.Equal(t, http.StatusOK, l.post(annPhone, c.text, "again").Code)
			}
			assert.True(t, c.done(l, b4), "%s done without %s", c.text, table)
		}
		assert.GreaterOrEqual(t, needed, c.needed, c.text)
	}
}
