package inbound

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store/storetest"
)

// A reply that could not be carried out wholly is not taken: the gateway brings it
// again, and then it is carried out once.
func TestAReplyIsTakenWhollyOrBroughtAgain(t *testing.T) {
	needed := 0
	for _, table := range []string{"farm", "field", "bed", "recipient", "notice", "message", "message_notice", "answer", "reply", "once", "memo", "verdict"} {
		l := newLine(t)
		ann, b4 := l.ann(), l.bed("B4")
		l.sent(ann, b4)
		before := storetest.Contents(t, l.store.DB())
		code := 0
		storetest.TableGone(t, l.store.DB(), table, func() { code = l.post(annPhone, "harvested B4", "in1").Code })
		if code == http.StatusOK {
			assert.True(t, l.now(b4).ClearedAt.Known(), "done without %s", table)
			continue
		}
		needed++
		assert.GreaterOrEqual(t, code, 500, "without %s", table)
		assert.Equal(t, before, storetest.Contents(t, l.store.DB()), "half done without %s", table)
		assert.Empty(t, l.caught.Texts(), "nobody is told so without %s", table)
		require.Equal(t, http.StatusOK, l.post(annPhone, "harvested B4", "in1").Code)
		assert.True(t, l.now(b4).ClearedAt.Known())
		assert.Len(t, l.answers(b4), 1)
	}
	assert.GreaterOrEqual(t, needed, 7)
}
