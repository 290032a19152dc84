package score

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store/storetest"
)

// Scores are written wholly or not at all: half of them would be another skill.
func TestScoresAreWholeOrAnError(t *testing.T) {
	needed := map[string]bool{}
	for _, table := range []string{"farm", "field", "bed", "cell", "hour", "finding", "judgement", "memo", "checkpoint"} {
		b := newBench(t)
		before := storetest.Contents(t, b.store.DB())
		var err error
		storetest.TableGone(t, b.store.DB(), table, func() { err = b.Score(t.Context()) })
		if err == nil {
			assert.NotEqual(t, before, storetest.Contents(t, b.store.DB()), "scored without %s", table)
			continue
		}
		needed[table] = true
		assert.ErrorContains(t, err, "no such table", table)
		require.NoError(t, b.Score(t.Context()))
	}
	for _, table := range []string{"farm", "field", "bed", "cell", "hour", "finding", "judgement"} {
		assert.True(t, needed[table], table)
	}
}
