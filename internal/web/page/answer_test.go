package page

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// asked is a farm with one bed, a deadline told to Ana, and the link she got.
func (w *world) asked() (farm.Bed, farm.Recipient, store.Notice, string) {
	w.Helper()
	b, f, ana, _ := w.small()
	v := w.endsAt(w.local(16, 16, 30))
	w.judged(map[int64]deadlineVerdict{b.ID: v})
	n, m := w.told(b, f, notice.HarvestBefore, v, ana)
	return b, ana, n, w.answerLink(m)
}

// press posts the answer form of a page.
func (b *browser) press(link string, pairs ...string) reply {
	b.Helper()
	form := b.get(link).is(200).form(link)
	form.Del("answer")
	return b.post(link, with(form, pairs...))
}

func TestLookingAtAnAnswerPageChangesNothing(t *testing.T) {
	w := newWorld(t)
	b, _, n, link := w.asked()
	before := w.state()
	for range 3 {
		w.stranger().get(link).is(200).says("B1, chard", "Harvest before Mon 16 Nov 4:30 pm CST", "Standing: 176 lb.", "Harvested: all of B1", "lb", "light row cover")
		w.stranger().get(link + "?answer=harvested&notice=" + fmt.Sprint(n.ID)).is(200)
	}
	assert.Equal(t, before, w.state())
	answers, err := w.store.Answers(w.ctx(), w.farmID, n.ID)
	require.NoError(t, err)
	assert.Empty(t, answers)
	_ = b
}

func TestAnswersDoWhatTheySay(t *testing.T) {
	cases := []struct {
		name  string
		give  []string
		says  string
		check func(t *testing.T, b farm.Bed)
	}{
		{"all", []string{"answer", "harvested"}, "B1 has ended: all of it is harvested.", func(t *testing.T, b farm.Bed) {
			assert.True(t, b.ClearedAt.Known())
		}},
		{"some", []string{"answer", "some", "amount", "100"}, "100 lb harvested of B1. 76 lb still stand", func(t *testing.T, b farm.Bed) {
			assert.False(t, b.ClearedAt.Known())
			kg, _ := b.StandingKg.Get()
			assert.InDelta(t, 80-45.359237, kg, 1e-9) // 100 lb
		}},
		{"covered", []string{"answer", "covered", "cover", "low_tunnel_fabric"}, "B1 is under low tunnel with fabric since today", func(t *testing.T, b farm.Bed) {
			assert.Equal(t, []farm.Cover{{Kind: "low_tunnel_fabric", On: "2026-11-15"}}, b.Covers)
		}},
		{"leave it", []string{"answer", "leave_it"}, "B1 is left. It is not asked about again until Tue 17 Nov 12:00 pm CST", func(t *testing.T, b farm.Bed) {
			assert.True(t, b.QuietUntil.Known())
		}},
		{"seen", []string{"answer", "seen"}, "Noted that you have seen it. Nothing else has changed", func(t *testing.T, b farm.Bed) {
			assert.False(t, b.QuietUntil.Known())
			assert.Equal(t, unit.Some(80.0), b.StandingKg)
		}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			b, ana, n, link := w.asked()
			s := w.stranger()
			r := s.press(link, c.give...).is(200).says(c.says)
			sound(t, r)
			got, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
			require.NoError(t, err)
			c.check(t, got)
			answers, err := w.store.Answers(w.ctx(), w.farmID, n.ID)
			require.NoError(t, err)
			require.Len(t, answers, 1)
			assert.Equal(t, ana.ID, answers[0].RecipientID, "the one it was sent to")
		})
	}
}

func TestWhatCannotBeAnsweredIsRefused(t *testing.T) {
	w := newWorld(t)
	b, f, _, _ := w.small()
	ana := w.person("Bo", "bo@example.org", "")
	v := w.endsAt(w.local(16, 16, 30))
	w.judged(map[int64]deadlineVerdict{b.ID: v})
	other := w.bed(f, "B2", "kale-curly", 40)
	n2, _ := w.told(other, f, notice.HarvestBefore, v)
	_, m := w.told(b, f, notice.HarvestBefore, v, ana)
	link := w.answerLink(m)
	s := w.stranger()
	before := w.state()
	form := s.get(link).form(link)
	s.post(link, with(form, "answer", "some", "amount", "a lot")).is(422).says("Please write a number")
	s.post(link, with(form, "answer", "some", "amount", "-4")).is(422)
	s.post(link, with(form, "answer", "covered", "cover", "blanket")).is(422).says("This could not be taken")
	s.post(link, with(form, "answer", "burned")).is(422)
	s.post(link, with(form, "answer", "")).is(422)
	s.post(link, with(form, "answer", "harvested", "notice", fmt.Sprint(n2.ID))).is(404) // not of this message
	form.Set("csrf", "x")
	s.post(link, with(form, "answer", "harvested")).is(403)
	s.post(link, url.Values{"answer": {"harvested"}, "notice": {"1"}}).is(403) // a program that posts blindly
	assert.Equal(t, before, w.state())
}

func TestAnAnswerLinkEndsAndCannotBeChanged(t *testing.T) {
	w := newWorld(t)
	_, ana, _, link := w.asked()
	s := w.stranger()
	s.get(link[:len(link)-1] + "A").is(410).says("This link is not valid, or its time has ended")
	s.get("/a/").is(404)
	s.get("/a/nonsense").is(410)
	s.get("/a/" + strings.TrimPrefix(w.unsubscribeLink(ana, "moved"), "/u/")).is(410)
	form := s.get(link).form(link)
	w.now = noon.Add(61 * 24 * time.Hour)
	s.get(link).is(410)
	before := w.state()
	s.post(link, with(form, "answer", "harvested")).is(410)
	assert.Equal(t, before, w.state())
	w.now = noon
	require.NoError(t, w.commands.RemoveRecipient(w.ctx(), w.farmID, ana.ID, unit.None[int64]()))
	s.get(link).is(410)
}

func TestTheSamePressTwiceIsHarmless(t *testing.T) {
	w := newWorld(t)
	b, _, _, link := w.asked()
	s := w.stranger()
	form := with(s.get(link).form(link), "answer", "some", "amount", "100")
	s.post(link, form).is(200)
	first, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	s.post(link, form).is(200).says("The same had been answered before. Nothing was changed.")
	second, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.Equal(t, first, second)
}

func TestAWrongPressIsTakenBack(t *testing.T) {
	w := newWorld(t)
	b, _, n, link := w.asked()
	s := w.stranger()
	done := s.press(link, "answer", "harvested").is(200)
	form := done.form(link + "/undo")
	s.post(link+"/undo", form).is(200).says("B1 stands again and is watched.", "Harvested: all of B1")
	got, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.False(t, got.ClearedAt.Known())
	kg, _ := got.StandingKg.Get()
	assert.InDelta(t, 80, kg, 0.001)
	kept, err := w.store.Notice(w.ctx(), w.farmID, n.ID)
	require.NoError(t, err)
	assert.Equal(t, farm.Seen, kept.Answer, "the last word is not that it is out")
	s.post(link+"/undo", form).is(409).says("It cannot be put back any more")
}

func TestAnEndedBedIsNotPutBackLaterOrByAnotherProof(t *testing.T) {
	w := newWorld(t)
	b, _, _, link := w.asked()
	s := w.stranger()
	form := s.press(link, "answer", "harvested").is(200).form(link + "/undo")
	proof := form.Get("proof")
	s.post(link+"/undo", with(form, "proof", "x"+proof)).is(409)
	s.post(link+"/undo", with(form, "proof", "")).is(409)
	form.Set("proof", proof)
	w.now = w.now.Add(undoFor + time.Second)
	s.post(link+"/undo", form).is(409)
	got, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.True(t, got.ClearedAt.Known())
}

func TestOneMessageAboutSeveralBedsHasACardForEach(t *testing.T) {
	w := newWorld(t)
	b, f, ana, _ := w.small()
	b2 := w.bed(f, "B2", "kale-curly", 40)
	v := w.endsAt(w.local(16, 16, 30))
	w.judged(map[int64]deadlineVerdict{b.ID: v, b2.ID: v})
	n1, _ := w.told(b, f, notice.HarvestBefore, v)
	n2, _ := w.told(b2, f, notice.HarvestBefore, v)
	m := store.Message{FarmID: w.farmID, RecipientID: ana.ID, Channel: store.Email, Key: "both", NoticeIDs: []int64{n1.ID, n2.ID}, State: store.Sent, CreatedAt: w.now, NotBefore: w.now}
	require.NoError(t, w.store.Write(w.ctx(), func(tx store.Writer) (err error) { m.ID, err = tx.AddMessage(w.ctx(), m); return err }))
	link := w.answerLink(m)
	s := w.stranger()
	r := s.get(link).is(200).says("B1, chard", "B2, curly kale")
	sound(t, r)
	assert.Equal(t, 2, strings.Count(r.body, "<details>"), "only the commonest answer is open")
	form := r.form(link)
	r = s.post(link, with(form, "answer", "harvested", "notice", fmt.Sprint(n2.ID))).is(200).says("B2 has ended", "Harvested: all of B1")
	assert.NotContains(t, plain(r.body), "Harvested: all of B2")
}

func TestAnAnswerOnTheNoticesPageIsTheSame(t *testing.T) {
	w := newWorld(t)
	b, _, n, _ := w.asked()
	g := w.grower()
	at := fmt.Sprintf("/notices/%d", n.ID)
	form := g.get(at).is(200).form(at + "/answer")
	g.post(at+"/answer", with(form, "answer", "covered", "cover", "cold_frame")).is(303)
	g.get(at + "?done=answered").is(200).says("covered: through a token")
	got, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.Equal(t, "cold_frame", got.CoverOn("2026-11-15"))
}

func TestUnsubscribingTakesAPress(t *testing.T) {
	w := newWorld(t)
	_, ana, _, _ := w.asked()
	bo := w.person("Bo", "bo@example.org", "")
	link := w.unsubscribeLink(ana, notice.Moved)
	s := w.stranger()
	before := w.state()
	for range 3 {
		sound(t, s.get(link).is(200).says("Stop mail of the kind “Deadline moved” to ana@example.org?"))
	}
	assert.Equal(t, before, w.state())
	s.post(link, url.Values{}).is(403)
	assert.Equal(t, before, w.state())
	s.post(link, s.get(link).form(link)).is(200).says("is stopped")
	muted := func(id int64) []string {
		r, err := w.store.Recipient(w.ctx(), w.farmID, id)
		require.NoError(t, err)
		return r.MutedMail
	}
	assert.Equal(t, []string{notice.Moved}, muted(ana.ID))
	assert.Empty(t, muted(bo.ID))
	s.get(link).is(200).says("is stopped")
	g := w.grower()
	path := fmt.Sprintf("/recipients/%d/resume", ana.ID)
	g.post(path, g.get("/recipients").says("Has stopped mail of the kind: Deadline moved.").form(path)).is(303)
	assert.Empty(t, muted(ana.ID))
}

func TestOneClickOfAMailProgramUnsubscribes(t *testing.T) { // RFC 8058, section 3.2
	w := newWorld(t)
	_, ana, _, _ := w.asked()
	link := w.unsubscribeLink(ana, notice.StillWatching)
	w.stranger().post(link, url.Values{"List-Unsubscribe": {"One-Click"}}).is(200)
	w.stranger().post(link, url.Values{"List-Unsubscribe": {"One-Click"}}).is(200)
	r, err := w.store.Recipient(w.ctx(), w.farmID, ana.ID)
	require.NoError(t, err)
	assert.Equal(t, []string{notice.StillWatching}, r.MutedMail)
	w.stranger().post(link+"x", url.Values{"List-Unsubscribe": {"One-Click"}}).is(410)
}

func TestAFarmThatNobodyHearsForIsToldEverywhere(t *testing.T) {
	w := newWorld(t)
	_, ana, _, _ := w.asked()
	link := w.unsubscribeLink(ana, notice.HarvestBefore)
	g := w.grower()
	g.get("/").silent("reach nobody")
	s := w.stranger()
	s.get(link).is(200).says("Nobody else on this farm is reached by such notices")
	s.post(link, s.get(link).form(link)).is(200).says("a bed can be lost without a word to anyone")
	for _, path := range []string{"/", "/health", "/recipients"} {
		g.get(path).is(200).says("Harvest-before notices reach nobody")
	}
	w.person("Bo", "bo@example.org", "")
	for _, path := range []string{"/", "/health"} {
		g.get(path).is(200).says("Harvest-before notices do not reach: Ana.")
	}
	other := w.unsubscribeLink(ana, notice.HarvestBefore)
	s.get(other).is(200).silent("a bed can be lost")
}

func TestWhatANightTookIsReportedFromTheMessageThatAsks(t *testing.T) {
	w := newWorld(t)
	b, f, ana, _ := w.small()
	v := w.endsAt(w.local(13, 16, 30))
	v.Night = "2026-11-13"
	w.judged(map[int64]deadlineVerdict{b.ID: v})
	_, m := w.told(b, f, notice.Inspect, v, ana)
	link := w.answerLink(m)
	before := w.state()
	w.stranger().get(link).is(200).says("How much did the night of Fri 13 Nov take?", "a tenth")
	assert.Equal(t, before, w.state())
	w.stranger().press(link, "answer", "found", "lost", "much").is(422)
	assert.Equal(t, before, w.state())
	w.stranger().press(link, "answer", "found", "lost", "0.3").is(200).says("the next deadline learns from it")
	found, err := w.store.Findings(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, farm.Day("2026-11-13"), found[0].Night)
	assert.InDelta(t, 0.3, found[0].LostFraction, 1e-9)
	_, told := w.told(b, f, notice.LastCall, v, ana)
	w.stranger().get(w.answerLink(told)).is(200).silent("How much did")
}
