package deliver

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

type sender func(ctx context.Context) (bool, error)

func (s sender) Send(ctx context.Context, _ Envelope) (bool, error) { return s(ctx) }

// Many goroutines of two processes want the same message at the same moment.
func TestATryIsClaimedByOneOfMany(t *testing.T) {
	b := newBench(t)
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	var tries atomic.Int32
	var all sync.WaitGroup
	for _, c := range []*Carrier{b.another(), b.another()} {
		c.Senders = map[string]Sender{store.Email: sender(func(context.Context) (bool, error) { tries.Add(1); return false, nil })}
		for range 8 {
			all.Go(func() { assert.NoError(t, c.Message(t.Context(), id)) })
		}
	}
	all.Wait()
	assert.EqualValues(t, 1, tries.Load())
	assert.Equal(t, store.Sent, b.message(id).State)
}

// By the table of the waits: 30 s, 2 min, 10 min, 30 min, 1 h, then every 2 h,
// until a day has passed. Others are told after the fourth failure, once.
func TestTheWaitsBetweenTriesAndTheEnd(t *testing.T) {
	b := newBench(t)
	b.mail.err, b.mail.retry = errors.New("451 come back later"), true
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	others := func() int {
		ms, err := b.store.Messages(t.Context(), b.farm, store.Page{})
		require.NoError(t, err)
		return len(ms) - 1
	}
	for i, wait := range []time.Duration{30 * time.Second, 2 * time.Minute, 10 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 2 * time.Hour} {
		m := b.try(id)
		require.Equal(t, i+1, m.Attempts)
		assert.Equal(t, store.Queued, m.State)
		assert.Equal(t, b.clock.Add(wait), m.NotBefore)
		assert.Contains(t, b.jobs, store.Job{MessageID: id, At: m.NotBefore})
		assert.Equal(t, map[bool]int{true: 2}[i+1 >= tellAfter], others(), "Ann by text and Ben by mail, after %d failures", i+1)
		b.clock = m.NotBefore.Add(-time.Second)
		assert.Equal(t, i+1, b.try(id).Attempts, "not before its time")
		b.clock = m.NotBefore
	}
	b.clock = begin.Add(giveUp + time.Second)
	assert.Equal(t, store.GivenUp, b.try(id).State)
	assert.Equal(t, 2, others(), "they know already")
	tries := len(b.mail.got)
	b.clock = b.clock.Add(giveUp)
	b.try(id)
	assert.Len(t, b.mail.got, tries, "given up for good")
}

func TestACallForABedThatWasClearedIsDropped(t *testing.T) {
	for kind, want := range map[notice.Kind]string{notice.HarvestBefore: store.Dropped, notice.Moved: store.Dropped, notice.LastCall: store.Dropped, notice.StandDown: store.Sent} {
		b := newBench(t)
		id := b.queued(b.ann, store.Email, b.notice(kind))
		b.write(func(tx store.Writer) {
			bed, err := tx.Bed(t.Context(), b.farm, b.bed)
			require.NoError(t, err)
			bed.ClearedAt = unit.Some(begin)
			require.NoError(t, tx.UpdateBed(t.Context(), bed))
		})
		assert.Equal(t, want, b.try(id).State, kind)
	}
}

// What came of a try is written down although its context ended meanwhile.
func TestATryThatIsBrokenOffIsWrittenDown(t *testing.T) {
	b := newBench(t)
	ctx, cancel := context.WithCancel(t.Context())
	b.carrier.Senders[store.Email] = sender(func(ctx context.Context) (bool, error) { cancel(); return true, ctx.Err() })
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	require.NoError(t, b.carrier.Message(ctx, id))
	m := b.message(id)
	assert.Equal(t, store.Queued, m.State)
	assert.Equal(t, context.Canceled.Error(), m.LastError)
	assert.Equal(t, begin.Add(backoff[0]), m.NotBefore)
}

// failing is a book that cannot be written.
type failing struct{ store.Database }

var errBook = errors.New("disk full")

func (failing) Write(context.Context, func(store.Writer) error) error { return errBook }

func TestNothingIsSentThatCannotBeClaimed(t *testing.T) {
	b := newBench(t)
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	b.carrier.Store.Database = failing{b.store}
	require.ErrorIs(t, b.carrier.Message(t.Context(), id), errBook)
	assert.Empty(t, b.mail.got)
}
