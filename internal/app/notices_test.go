package app_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// snap is a night that no chard outlives, four days on.
func (w *world) snap() {
	w.sky.day("2025-11-07", -2)
	w.sky.night("2025-11-07", -14)
	w.sky.day("2025-11-08", -2)
}

func TestANoticeReachesMailAndTextOnce(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.round()
	assert.Empty(t, w.caught.Mails(), "nothing threatens yet")

	w.snap()
	w.clock.Add(time.Hour)
	o := w.round()
	require.Equal(t, []string{notice.HarvestBefore}, kinds(o.Notices))
	by, ok := o.Notices[0].HarvestBefore.Get()
	require.True(t, ok)
	assert.True(t, by.After(w.clock.Now()) && by.Before(w.local("2025-11-07 17:00")), by)
	require.Len(t, w.caught.Mails(), 1)
	require.Len(t, w.caught.Texts(), 1)
	mail, text := w.caught.Mails()[0], w.caught.Texts()[0]
	assert.Contains(t, mail.Subject, "Harvest A1 (chard) before ")
	assert.Contains(t, mail.Text, "night of Fri 7 Nov")
	assert.Contains(t, mail.Text, "US National Weather Service")
	assert.Equal(t, "ann@farm.test", mail.To[0])
	assert.Equal(t, "+16125550101", text.To)
	assert.Contains(t, text.Text[:min(100, len(text.Text))], "A1 chard: harvest before ")
	assert.NotEmpty(t, text.Key)

	for range 3 { // the same forecast, judged again, says nothing anew
		w.clock.Add(10 * time.Minute)
		assert.Empty(t, w.round().Notices)
	}
	assert.Len(t, w.caught.Mails(), 1)
	assert.Len(t, w.caught.Texts(), 1)
}

func TestSeveralBedsShareOneMessage(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.person(commands.RecipientInput{Name: commands.Set("Ben"), Phone: commands.Set("+16125550102"), Units: commands.Set("metric")})
	for _, b := range []string{"A1", "A2", "A3", "A4"} {
		w.bed(b, "chard")
	}
	w.snap()
	o := w.round()
	require.Len(t, o.Notices, 4)
	require.Len(t, w.caught.Mails(), 1, "one mail for four beds")
	require.Len(t, w.caught.Texts(), 2, "one text for each who has a phone")
	mail := w.caught.Mails()[0]
	assert.Contains(t, mail.Subject, "4 beds")
	for _, b := range []string{"A1", "A2", "A3", "A4"} {
		assert.Contains(t, mail.Text, "Harvest "+b+" (chard) before")
	}
	assert.Equal(t, 1, strings.Count(mail.Text, "This supplements official warnings"), "cautions stand once")
}

var farOff = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)

func (w *world) lastMail() (m struct{ Subject, Text string }) {
	w.Helper()
	mails := w.caught.Mails()
	require.NotEmpty(w, mails)
	m.Subject, m.Text = mails[len(mails)-1].Subject, mails[len(mails)-1].Text
	return m
}

func TestALastCallUnlessSomebodyAnswered(t *testing.T) {
	w := newWorld(t)
	ann := w.ann()
	w.bed("A1", "chard")
	w.bed("A2", "chard")
	w.bed("A3", "chard")
	w.snap()
	first := w.round().Notices
	require.Len(t, first, 3)
	for i, answer := range []string{farm.Seen, farm.LeaveIt} {
		_, err := w.service.Commands.Answer(t.Context(), w.farmID, first[i].ID, ann.ID, commands.AnswerInput{Answer: commands.Set(answer)})
		require.NoError(t, err)
	}
	ns := w.until(w.local("2025-11-07 12:00"), 2*time.Hour)
	calls := ofKind(ns, notice.LastCall)
	require.Len(t, calls, 1, "only the bed that nobody has answered for: %v", kinds(ns))
	assert.Equal(t, first[2].BedID, calls[0].BedID)
	assert.Contains(t, w.lastMail().Subject, "Last window for A3 (chard)")
	assert.Contains(t, w.lastMail().Text, "nobody has answered yet")
}

func TestAHarvestedBedIsHeardOfNoMore(t *testing.T) {
	w := newWorld(t)
	ann := w.ann()
	w.bed("A1", "chard")
	w.snap()
	first := w.round().Notices
	_, err := w.service.Commands.Answer(t.Context(), w.farmID, first[0].ID, ann.ID, commands.AnswerInput{Answer: commands.Set(farm.Harvested)})
	require.NoError(t, err)
	assert.Empty(t, w.until(w.local("2025-11-08 14:00"), 6*time.Hour))
	assert.Len(t, w.caught.Mails(), 1)
}

func TestAfterTheNightPeopleAreAskedToLookOnce(t *testing.T) {
	w := newWorld(t, many)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.round()
	ns := w.until(w.local("2025-11-12 12:00"), 3*time.Hour)
	assert.Equal(t, []string{notice.LastCall, notice.Inspect}, kinds(ns))
	inspect := ofKind(ns, notice.Inspect)[0]
	assert.Equal(t, farm.Day("2025-11-07"), inspect.Night)
	assert.Equal(t, 8, inspect.IssuedAt.In(w.sky.zone).Day())
}

func TestWhatWaitsForItsReaderIsDroppedWhenAnswered(t *testing.T) {
	w := newWorld(t)
	w.clock.Set(w.local("2025-11-03 22:00"))
	w.person(commands.RecipientInput{Name: commands.Set("Ben"), Email: commands.Set("ben@farm.test"), QuietFrom: commands.Set("21:00"), QuietTo: commands.Set("06:00")})
	w.bed("A1", "chard")
	w.snap()
	first := w.round().Notices
	require.Len(t, first, 1)
	require.Empty(t, w.caught.Mails())
	_, err := w.service.Commands.Answer(t.Context(), w.farmID, first[0].ID, 0, commands.AnswerInput{Answer: commands.Set(farm.Harvested)})
	require.NoError(t, err)
	w.until(w.local("2025-11-04 08:00"), time.Hour)
	assert.Empty(t, w.caught.Mails(), "it was harvested in the night: no call any more")
	assert.Equal(t, []string{store.Dropped}, w.states())
}

// states of all messages, oldest first.
func (w *world) states() []string {
	w.Helper()
	ms, err := w.service.Book.Messages(w.Context(), w.farmID, store.Page{})
	require.NoError(w, err)
	var out []string
	for i := len(ms) - 1; i >= 0; i-- {
		out = append(out, ms[i].State)
	}
	return out
}

func TestQuietHoursHoldWhatCanWait(t *testing.T) {
	w := newWorld(t)
	w.clock.Set(w.local("2025-11-03 22:00"))
	w.person(commands.RecipientInput{Name: commands.Set("Ben"), Email: commands.Set("ben@farm.test"), Phone: commands.Set("+16125550102"),
		QuietFrom: commands.Set("21:00"), QuietTo: commands.Set("06:00")})
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	require.Len(t, w.round().Notices, 1)
	require.Len(t, w.caught.Mails(), 1, "Ann has no quiet hours")
	w.until(w.local("2025-11-04 05:59"), 4*time.Hour)
	assert.Len(t, w.caught.Mails(), 1)
	w.until(w.local("2025-11-04 06:00"), time.Hour)
	require.Len(t, w.caught.Mails(), 2)
	assert.Equal(t, "ben@farm.test", w.caught.Mails()[1].To[0])
	assert.Len(t, w.caught.Texts(), 2)
}

func TestQuietHoursAreBrokenWhenTheyWouldEatTheDeadline(t *testing.T) {
	w := newWorld(t)
	w.clock.Set(w.local("2025-11-06 22:00"))
	w.person(commands.RecipientInput{Name: commands.Set("Ben"), Email: commands.Set("ben@farm.test"), QuietFrom: commands.Set("21:00"), QuietTo: commands.Set("15:00")})
	w.bed("A1", "chard")
	w.snap()
	o := w.round()
	require.Len(t, o.Notices, 1)
	assert.Len(t, w.caught.Mails(), 1, "the last window is over before the quiet hours are")
}

func TestUnwantedKindsAreLeftOut(t *testing.T) {
	w := newWorld(t)
	w.person(commands.RecipientInput{Name: commands.Set("Only blind"), Email: commands.Set("blind@farm.test"), Kinds: commands.Set([]string{notice.Blind, notice.SightAgain})})
	muted := w.person(commands.RecipientInput{Name: commands.Set("Unsubscribed"), Email: commands.Set("muted@farm.test"), Phone: commands.Set("+16125550103")})
	require.NoError(t, w.service.Book.Write(t.Context(), func(tx store.Writer) error {
		muted.MutedMail = []string{notice.HarvestBefore}
		return tx.UpdateRecipient(t.Context(), muted)
	}))
	w.bed("A1", "chard")
	w.snap()
	require.Len(t, w.round().Notices, 1)
	assert.Empty(t, w.caught.Mails())
	require.Len(t, w.caught.Texts(), 1, "by text the unsubscribed one still hears")
	assert.Equal(t, "+16125550103", w.caught.Texts()[0].To)
}

func TestLeaveItMutesTheNightOnly(t *testing.T) {
	w := newWorld(t)
	ann := w.ann()
	w.bed("A1", "kale-curly")
	w.snap()
	first := w.round().Notices
	require.Len(t, first, 1)
	a, err := w.service.Commands.Answer(t.Context(), w.farmID, first[0].ID, ann.ID, commands.AnswerInput{Answer: commands.Set(farm.LeaveIt)})
	require.NoError(t, err)
	b, _ := a.Bed.Get()
	assert.Equal(t, unit.Some(w.local("2025-11-08 12:00").UTC()), b.QuietUntil)
	ns := w.until(w.local("2025-11-08 12:00"), 4*time.Hour)
	assert.Equal(t, []string{notice.Inspect}, kinds(ns), "no more asking, but the look after the night")
}
