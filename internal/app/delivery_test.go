package app_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/trial/catcher"
)

func fieldInput(name string, latitude, longitude float64) commands.FieldInput {
	return commands.FieldInput{Name: commands.Set(name), Latitude: commands.Set(latitude), Longitude: commands.Set(longitude)}
}

func TestAMailThatIsRefusedIsToldToOthersAndByText(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.person(commands.RecipientInput{Name: commands.Set("Ben"), Phone: commands.Set("+16125550102")})
	w.bed("A1", "chard")
	w.snap()
	w.caught.FailMails(1, catcher.Never)
	w.round()
	assert.Empty(t, w.caught.Mails())
	texts := w.caught.Texts()
	require.Len(t, texts, 4, "the notice to both, and to both that Ann's mail failed")
	for _, text := range texts[2:] {
		assert.Contains(t, text.Text, "Ann not reached by e-mail")
	}
	assert.Equal(t, []string{"+16125550101", "+16125550102"}, []string{texts[2].To, texts[3].To})
	assert.Equal(t, []string{store.GivenUp, store.Sent, store.Sent, store.Sent, store.Sent}, w.states())
	assert.Equal(t, []string{notice.HarvestBefore, notice.Undelivered}, kinds(w.notices()))
}

func TestAMailThatIsPutOffIsTriedAgain(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.caught.FailMails(2, catcher.Later)
	w.round()
	require.Empty(t, w.caught.Mails())
	w.until(w.clock.Now().Add(10*time.Minute), 30*time.Second)
	require.Len(t, w.caught.Mails(), 1)
	assert.Equal(t, []string{notice.HarvestBefore}, kinds(w.notices()), "nobody is alarmed for a wait of minutes")
}

func TestAMailThatIsPutOffForLongIsToldOnce(t *testing.T) {
	w := newWorld(t, many)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.caught.FailMails(1000, catcher.Later)
	w.until(begin.Add(30*time.Hour), 20*time.Minute)
	assert.Equal(t, []string{notice.HarvestBefore, notice.Undelivered}, kinds(w.notices()))
	require.Len(t, w.caught.Texts(), 2)
	assert.Contains(t, w.caught.Texts()[1].Text, "Ann not reached by e-mail")
	assert.Equal(t, []string{store.GivenUp, store.Sent, store.Sent}, w.states(), "given up after a day")
}

func TestALineThatBreaksBeforeTheAnswerRepeatsTheKey(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.caught.FailMails(1, catcher.Drop)
	w.caught.FailTexts(1, catcher.Drop)
	w.round()
	w.until(w.clock.Now().Add(5*time.Minute), time.Minute)
	for what, counts := range map[string]map[string]int{"mail": w.caught.MailCounts(), "text": w.caught.TextCounts()} {
		require.Len(t, counts, 1, "%s: one key", what)
		for key, n := range counts {
			assert.Equal(t, 2, n, "%s %s: the server had taken the first, which nobody could know", what, key)
		}
	}
	assert.Equal(t, []string{store.Sent, store.Sent}, w.states())
}

func TestWithoutAServerMessagesWaitAndAreShown(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	delete(w.service.Carrier.Senders, store.SMS)
	w.round()
	assert.Len(t, w.caught.Mails(), 2, "the notice, and that no text could go out")
	assert.Equal(t, []string{notice.HarvestBefore, notice.Undelivered}, kinds(w.notices()))
}

func TestARestartSaysNothingTwice(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.bed("A2", "kale-curly")
	w.snap()
	require.Len(t, w.round().Notices, 2)
	w.reopen()
	for range 4 {
		assert.Empty(t, w.round().Notices)
		w.clock.Add(20 * time.Minute)
	}
	assert.Len(t, w.caught.Mails(), 1)
	assert.Len(t, w.caught.Texts(), 1)
}
