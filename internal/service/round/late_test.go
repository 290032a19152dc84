package round_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/store/storetest"
)

// carried are the notices that each message to a person carries.
func (b *fieldBench) carried(to farm.Recipient) (notices [][]int64) {
	b.Helper()
	all, err := b.store.Messages(b.Context(), b.farm, store.Page{})
	require.NoError(b, err)
	for _, m := range all {
		if m.RecipientID == to.ID {
			notices = append(notices, m.NoticeIDs)
		}
	}
	return notices
}

func (b *fieldBench) person(name string) farm.Recipient {
	b.Helper()
	r, err := b.AddRecipient(b.Context(), b.farm, commands.RecipientInput{Name: commands.Set(name), Email: commands.Set(name + "@hill.example")})
	require.NoError(b, err)
	return r
}

// Who comes after an open notice was told hears of it in the next round, once; who
// was there has heard, and who comes after all is over has nothing to hear.
func TestWhoComesLateHearsOfAnOpenNoticeOnce(t *testing.T) {
	b := newFieldBench(t)
	bo := b.person("bo")
	b.sky.hard["2025-11-06"] = true
	told := b.until("2025-11-03 18:00")
	require.Equal(t, []string{notice.HarvestBefore}, kinds(told))
	require.EqualValues(t, 1, told[0].ID, "the first there is")
	require.Equal(t, [][]int64{{1}}, b.carried(bo))
	cy := b.person("cy")
	require.Empty(t, b.until("2025-11-04 00:00"))
	assert.Equal(t, [][]int64{{1}}, b.carried(cy), "in the next round, and not in the one after it")
	assert.Equal(t, [][]int64{{1}}, b.carried(bo), "told before")

	b.sky.hard["2025-11-06"] = false
	last := b.until("2025-11-07 15:00")
	require.Equal(t, notice.StandDown, last[len(last)-1].Kind)
	dee := b.person("dee")
	b.until("2025-11-08 00:00")
	assert.Empty(t, b.carried(dee))
}

// A round of a cell is written wholly or not at all, and done by the next.
func TestARoundIsWrittenWhollyOrDoneByTheNext(t *testing.T) {
	needed := map[string]bool{}
	for _, table := range []string{"farm", "field", "bed", "cell", "hour", "checkpoint", "verdict", "judgement", "notice", "answer", "recipient", "message", "message_notice", "memo", "reading", "finding", "once"} {
		b := newFieldBench(t)
		require.Empty(t, b.until("2025-11-03 12:00"))
		b.person("cy")
		b.sky.hard["2025-11-06"] = true
		var err error
		storetest.TableGone(t, b.store.DB(), table, func() { _, err = b.runner.Round(t.Context()) })
		if err != nil {
			needed[table] = true
			assert.ErrorContains(t, err, "no such table", table)
		}
		b.clock = b.clock.Add(time.Hour)
		b.until("2025-11-03 18:00")
		all, err := b.store.Notices(t.Context(), b.farm, store.NoticeFilter{})
		require.NoError(t, err)
		require.Len(t, all, 1, "told once, without %s", table)
		messages, err := b.store.Messages(t.Context(), b.farm, store.Page{})
		require.NoError(t, err)
		assert.Len(t, messages, 2, "to each of two, without %s", table)
	}
	for _, table := range []string{"farm", "field", "bed", "cell", "hour", "verdict", "judgement", "notice", "recipient", "message"} {
		assert.True(t, needed[table], "a round needs %s", table)
	}
}

// A round counts what it has looked at, over all its cells.
func TestARoundCountsWhatItLookedAt(t *testing.T) {
	b := newFieldBench(t)
	o, err := b.runner.Round(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []int{1, 1, 1, 0}, []int{o.Cells, o.Fields, o.Beds, o.Blind})
	fields, err := b.store.Fields(t.Context(), b.farm, store.Page{})
	require.NoError(t, err)
	for _, name := range []string{"A2", "A3"} {
		_, err := b.AddBed(t.Context(), b.farm, commands.BedInput{FieldID: commands.Set(fields[0].ID), Name: commands.Set(name), Crop: commands.Set("chard")})
		require.NoError(t, err)
	}
	o, err = b.runner.Round(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []int{1, 1, 3, 0}, []int{o.Cells, o.Fields, o.Beds, o.Blind})
	assert.Len(t, o.Reasons, 1)
	for _, n := range o.Reasons {
		assert.Equal(t, 3, n, "each bed has a reason why nothing is told")
	}
}
