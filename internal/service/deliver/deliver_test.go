package deliver

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

var errBusy = errors.New("421 try again later")

func TestAMessageIsSentOnce(t *testing.T) {
	b := newBench(t)
	var told []int64
	b.carrier.Told = func(_ context.Context, m store.Message, _ Envelope) { told = append(told, m.ID) }
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	m := b.try(id)
	assert.Equal(t, store.Sent, m.State)
	assert.Equal(t, 1, m.Attempts)
	assert.Equal(t, unit.Some(begin), m.SentAt)
	assert.Empty(t, m.LastError)
	b.try(id)
	require.Len(t, b.mail.got, 1, "sent is sent")
	assert.Equal(t, []int64{id}, told)
	e := b.mail.got[0]
	assert.Equal(t, m.Key, e.Key)
	assert.Equal(t, "Ann", e.To.Name)
	assert.Contains(t, e.Letter.Subject, "A1")
	assert.Equal(t, []string{notice.Thread("bed:1", "2026-11-18")}, e.Thread)
	assert.Empty(t, b.jobs, "nothing is left to do")
	require.NoError(t, b.carrier.Message(t.Context(), 999), "a message that is gone is no error")
	_, claimed, err := b.carrier.claim(t.Context(), 999)
	require.NoError(t, err)
	assert.False(t, claimed, "and there is nothing to try")
}

func TestAMessageWaitsForItsTime(t *testing.T) {
	b := newBench(t)
	id := b.queued(b.ann, store.SMS, b.notice(notice.HarvestBefore))
	b.clock = begin.Add(-time.Second)
	assert.Equal(t, 0, b.try(id).Attempts)
	b.clock = begin
	assert.Equal(t, store.Sent, b.try(id).State)
	assert.Len(t, b.text.got, 1)
}

// Waits between tries, own defaults of the design: 30 s, 2 min, 10 min, 30 min,
// 1 h, then every 2 h, and an end after a day. At the fourth failure the others
// are told, once.
func TestARefusalIsTriedAgainAndThenGivenUp(t *testing.T) {
	b := newBench(t)
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	b.mail.err, b.mail.retry = errBusy, true
	waits := []time.Duration{30 * time.Second, 2 * time.Minute, 10 * time.Minute, 30 * time.Minute, time.Hour}
	for try := 1; ; try++ {
		m := b.try(id)
		require.Equal(t, try, m.Attempts)
		require.Equal(t, errBusy.Error(), m.LastError)
		others, err := b.store.Notices(t.Context(), b.farm, store.NoticeFilter{Kind: notice.Undelivered})
		require.NoError(t, err)
		require.Equal(t, try >= 4, len(others) == 1, "try %d", try)
		if m.State == store.GivenUp {
			assert.Greater(t, b.clock.Sub(begin), 24*time.Hour)
			assert.Less(t, b.clock.Sub(begin), 27*time.Hour)
			break
		}
		want := 2 * time.Hour
		if try <= len(waits) {
			want = waits[try-1]
		}
		require.Equal(t, want, m.NotBefore.Sub(b.clock), "after try %d", try)
		last := b.jobs[len(b.jobs)-1]
		if try != 4 { // then the news are queued after it
			require.Equal(t, store.Job{MessageID: id, At: m.NotBefore}, last)
		}
		b.clock = m.NotBefore
	}
	sent := len(b.mail.got)
	b.clock = b.clock.Add(24 * time.Hour)
	b.try(id)
	assert.Len(t, b.mail.got, sent, "given up is given up")
}

// Who else is told: Ben by mail, and Ann by the way that may still work.
func TestOthersAreToldOfARefusalForGood(t *testing.T) {
	b := newBench(t)
	about := b.notice(notice.HarvestBefore)
	id := b.queued(b.ann, store.Email, about)
	b.mail.err, b.mail.retry = errors.New("550 no such mailbox"), false
	m := b.try(id)
	assert.Equal(t, store.GivenUp, m.State)
	news, err := b.store.Messages(t.Context(), b.farm, store.Page{})
	require.NoError(t, err)
	type way struct {
		to      int64
		channel string
	}
	var ways []way
	for _, n := range news {
		if n.ID != id {
			ways = append(ways, way{n.RecipientID, n.Channel})
			assert.Contains(t, b.jobs, store.Job{MessageID: n.ID})
		}
	}
	assert.ElementsMatch(t, []way{{b.ann, store.SMS}, {b.ben, store.Email}}, ways)

	b.mail.err = nil
	for _, n := range news {
		if n.RecipientID == b.ben {
			b.try(n.ID)
		}
	}
	last := b.mail.got[len(b.mail.got)-1]
	assert.Contains(t, last.Letter.Text, "Ann")
	assert.Contains(t, last.Letter.Text, "550 no such mailbox")
}

// News of a failure do not go round in circles, and a sign of life, a test or a
// message that is queued twice a day make none.
func TestWhatIsNotWorthTelling(t *testing.T) {
	for name, kind := range map[string]string{"news of a failure": notice.Undelivered, "a sign of life": notice.StillWatching, "a test": ""} {
		b := newBench(t)
		b.mail.err = errors.New("550 no such mailbox")
		var about []int64
		if kind != "" {
			about = []int64{b.notice(kind)}
		}
		before := len(about)
		assert.Equal(t, store.GivenUp, b.try(b.queued(b.ann, store.Email, about...)).State, name)
		all, err := b.store.Notices(t.Context(), b.farm, store.NoticeFilter{})
		require.NoError(t, err)
		assert.Len(t, all, before, name)
	}
	b := newBench(t)
	b.mail.err = errors.New("550 no such mailbox")
	for range 2 {
		assert.Equal(t, store.GivenUp, b.try(b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))).State)
	}
	all, err := b.store.Notices(t.Context(), b.farm, store.NoticeFilter{Kind: notice.Undelivered})
	require.NoError(t, err)
	assert.Len(t, all, 1, "once a day for a person and a way")
}

func TestAChannelWithoutAServer(t *testing.T) {
	b := newBench(t)
	delete(b.carrier.Senders, store.SMS)
	m := b.try(b.queued(b.ann, store.SMS, b.notice(notice.HarvestBefore)))
	assert.Equal(t, store.GivenUp, m.State)
	assert.Equal(t, "no sms server is set up", m.LastError)
}

// What was said before a message left need not be asked any more; what has only
// been seen or covered still does.
func TestWhatIsSettledIsNotSent(t *testing.T) {
	for _, c := range []struct {
		kind, answer, channel string
		muted                 bool
		sent                  bool
	}{
		{notice.HarvestBefore, farm.Harvested, store.Email, false, false},
		{notice.Moved, farm.LeaveIt, store.Email, false, false},
		{notice.LastCall, farm.Harvested, store.SMS, false, false},
		{notice.HarvestBefore, farm.Seen, store.Email, false, true},
		{notice.HarvestBefore, farm.Covered, store.Email, false, true},
		{notice.Inspect, farm.LeaveIt, store.Email, false, true},
		{notice.HarvestBefore, "", store.Email, true, false}, // has refused this kind by mail
		{notice.HarvestBefore, "", store.SMS, true, false},   // has sent STOP
	} {
		b := newBench(t)
		id := b.queued(b.ann, c.channel, b.notice(c.kind))
		b.write(func(tx store.Writer) {
			if c.answer != "" {
				_, err := tx.AddAnswer(t.Context(), farm.Answer{FarmID: b.farm, NoticeID: 1, BedID: b.bed, RecipientID: b.ann, Answer: c.answer, At: begin})
				require.NoError(t, err)
			}
			if c.muted {
				ann, err := tx.Recipient(t.Context(), b.farm, b.ann)
				require.NoError(t, err)
				ann.MutedSMS, ann.MutedMail = true, []string{notice.HarvestBefore}
				require.NoError(t, tx.UpdateRecipient(t.Context(), ann))
			}
		})
		m := b.try(id)
		want := store.Dropped
		if c.sent {
			want = store.Sent
		}
		assert.Equal(t, want, m.State, "%+v", c)
		assert.Equal(t, c.sent, len(b.mail.got)+len(b.text.got) == 1, "%+v", c)
	}
}

func TestWhoHasLeftIsNotTold(t *testing.T) {
	b := newBench(t)
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	b.write(func(tx store.Writer) {
		ann, err := tx.Recipient(t.Context(), b.farm, b.ann)
		require.NoError(t, err)
		ann.RemovedAt = unit.Some(begin)
		require.NoError(t, tx.UpdateRecipient(t.Context(), ann))
	})
	assert.Equal(t, store.Dropped, b.try(id).State)
	assert.Empty(t, b.mail.got)
}

// A try is one process's until its lease ends; then another takes it over, and
// one that knows to be alone need not wait.
func TestATryBelongsToOneProcess(t *testing.T) {
	b := newBench(t)
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	_, claimed, err := b.carrier.claim(t.Context(), id) // and is killed
	require.NoError(t, err)
	require.True(t, claimed)
	other := b.another()
	require.NoError(t, other.Message(t.Context(), id))
	b.clock = begin.Add(lease - time.Second)
	require.NoError(t, other.Message(t.Context(), id))
	assert.Empty(t, b.mail.got)
	b.clock = begin.Add(time.Minute)
	require.NoError(t, other.Message(t.Context(), id))
	assert.Len(t, b.mail.got, 1)
	assert.Equal(t, 2, b.message(id).Attempts)
	assert.Less(t, tryWithin, lease, "a try ends before another may begin")
}

func TestTakingOverWhatAKilledProcessHeld(t *testing.T) {
	b := newBench(t)
	held := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	_, _, err := b.carrier.claim(t.Context(), held)
	require.NoError(t, err)
	refused := b.queued(b.ben, store.Email, b.notice(notice.HarvestBefore))
	b.mail.err, b.mail.retry = errBusy, true
	waits := b.try(refused).NotBefore
	fresh := b.queued(b.ann, store.SMS, b.notice(notice.HarvestBefore))
	n, err := b.another().TakeOver(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 1, n, "the one that was under way")
	assert.Equal(t, begin, b.message(held).NotBefore)
	assert.Equal(t, waits, b.message(refused).NotBefore, "a refusal waits as it was told to")
	assert.Zero(t, b.message(fresh).Attempts)
	n, err = b.another().TakeOver(t.Context())
	require.NoError(t, err)
	assert.Zero(t, n, "it is due already")
}

// artist draws nothing but bytes.
type artist struct {
	png []byte
	err error
}

func (a artist) Picture(context.Context, store.Notice, phrase.Speaker) ([]byte, error) {
	return a.png, a.err
}

func TestPicturesAndAnnexGoByMailOnly(t *testing.T) {
	annex := func(_ context.Context, farmID int64, facts []notice.Facts, s phrase.Speaker) (string, error) {
		return "the plan of the day", nil
	}
	b := newBench(t)
	b.carrier.Artist, b.carrier.Annex = artist{png: []byte("drawn")}, annex
	b.try(b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore)))
	b.try(b.queued(b.ann, store.SMS, b.notice(notice.HarvestBefore)))
	assert.Equal(t, []Picture{{CID: "bed-1-1", PNG: []byte("drawn"), Title: "bed-1.png"}}, b.mail.got[0].Pictures)
	assert.Contains(t, b.mail.got[0].Letter.Text, "the plan of the day")
	assert.Empty(t, b.text.got[0].Pictures)
	assert.NotContains(t, b.text.got[0].Letter.SMS, "the plan of the day")

	// Neither failing keeps a notice back.
	b.carrier.Artist = artist{err: errBusy}
	b.carrier.Annex = func(context.Context, int64, []notice.Facts, phrase.Speaker) (string, error) {
		return "half a plan", errBusy
	}
	assert.Equal(t, store.Sent, b.try(b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))).State)
	assert.Empty(t, b.mail.got[1].Pictures)
	assert.NotContains(t, b.mail.got[1].Letter.Text, "half a plan")
}

// Links are signed for what they are for: answering for sixty days, leaving for ever.
func TestLinksOfAMessage(t *testing.T) {
	b := newBench(t)
	b.carrier.Replies = true
	id := b.queued(b.ann, store.Email, b.notice(notice.HarvestBefore))
	b.try(id)
	l := b.mail.got[0].Links
	assert.True(t, l.Replies)
	answer, ok := strings.CutPrefix(l.Answer, "https://farm.example/a/")
	require.True(t, ok, l.Answer)
	parts, err := b.carrier.Signer.Read(AnswerLink, answer, begin.AddDate(0, 0, 60))
	require.NoError(t, err)
	assert.Equal(t, []string{"1"}, parts)
	_, err = b.carrier.Signer.Read(AnswerLink, answer, begin.AddDate(0, 0, 60).Add(time.Second))
	assert.Error(t, err)
	leave, ok := strings.CutPrefix(l.Unsubscribe, "https://farm.example/u/")
	require.True(t, ok, l.Unsubscribe)
	parts, err = b.carrier.Signer.Read(UnsubscribeLink, leave, begin.AddDate(50, 0, 0))
	require.NoError(t, err)
	assert.Equal(t, []string{"1", "1", notice.HarvestBefore}, parts)
	b.try(b.queued(b.ann, store.SMS, b.notice(notice.HarvestBefore)))
	assert.Empty(t, b.text.got[0].Links.Unsubscribe, "a text is left by sending STOP")
}

// People are spoken to in their own language and units, else in the farm's.
func TestAReadersOwnLanguage(t *testing.T) {
	book := phrase.MustLoad()
	owner := farm.Farm{Language: "en", Units: unit.US}
	assert.Equal(t, phrase.Speaker{Book: book, Language: "en", Units: unit.US, Zone: time.UTC}, SpeakerFor(book, farm.Recipient{}, owner, time.UTC))
	assert.Equal(t, phrase.Speaker{Book: book, Language: "es", Units: unit.Metric, Zone: time.UTC},
		SpeakerFor(book, farm.Recipient{Language: "es", Units: unit.Metric}, owner, time.UTC))
	b := newBench(t)
	b.try(b.queued(b.ben, store.Email, b.notice(notice.HarvestBefore)))
	assert.Contains(t, b.mail.got[0].Letter.Text, "Esto complementa")
}

func TestATestMessageIsSent(t *testing.T) {
	b := newBench(t)
	assert.Equal(t, store.Sent, b.try(b.queued(b.ann, store.Email)).State)
	assert.Contains(t, b.mail.got[0].Letter.Text, "Hill Farm")
}
