package app_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/gsm7"
	"winterstand/internal/outside/settings"
	"winterstand/internal/outside/sms"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/web/calendar"
)

const gatewaySecret = "an invented gateway's secret"

// answering is a world whose texts can be answered by text.
func answering(t *testing.T) *world {
	w := newWorld(t, func(o *worldOptions) {
		o.settings = func(c *settings.Settings) { c.SMS.InboundSecret = gatewaySecret }
	})
	w.ann()
	return w
}

func (w *world) ask(r *http.Request) *httptest.ResponseRecorder {
	w.Helper()
	h, err := w.service.Handler()
	require.NoError(w, err)
	out := httptest.NewRecorder()
	h.ServeHTTP(out, r)
	return out
}

// reply posts a text of Ann's as the gateway does.
func (w *world) reply(text, secret string) int {
	w.Helper()
	body := url.Values{"from": {"16125550101"}, "text": {text}, "id": {text}}.Encode()
	stamp := fmt.Sprint(w.clock.Now().Unix())
	r := httptest.NewRequest(http.MethodPost, "/sms/inbound", strings.NewReader(body))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("X-Timestamp", stamp)
	r.Header.Set("X-Signature", sms.Sign(secret, stamp, []byte(body)))
	return w.ask(r).Code
}

func (w *world) lastText() string {
	w.Helper()
	texts := w.caught.Texts()
	require.NotEmpty(w, texts)
	return texts[len(texts)-1].Text
}

func (w *world) calendar() string {
	w.Helper()
	secret, err := w.service.Commands.CalendarSecret(w.Context(), w.farmID)
	require.NoError(w, err)
	got := w.ask(httptest.NewRequest(http.MethodGet, calendar.Path(secret), nil))
	require.Equal(w, http.StatusOK, got.Code)
	return got.Body.String()
}

// From the notice to the answer and what follows from it, over the wire.
func TestATextIsAnsweredByText(t *testing.T) {
	w := answering(t)
	bed := w.bed("A1", "chard")
	w.snap()
	w.round()
	notice := w.lastText()
	assert.Contains(t, notice, "Reply HARVESTED, COVERED, LEAVE or SEEN.")
	assert.LessOrEqual(t, gsm7.Segments(notice), 2)
	assert.Contains(t, w.lastMail().Text, "Or reply to a text message")
	assert.Contains(t, w.calendar(), "STATUS:CONFIRMED")

	assert.Equal(t, http.StatusUnauthorized, w.reply("harvested", "some other gateway's secret"))
	assert.Equal(t, http.StatusOK, w.reply("Harvested", gatewaySecret))
	assert.Equal(t, "Noted: all of A1 harvested. No more notices about it.", w.lastText())
	got, err := w.service.Book.Bed(t.Context(), w.farmID, bed.ID)
	require.NoError(t, err)
	assert.True(t, got.ClearedAt.Known())
	assert.Equal(t, farm.Harvested, w.notices()[0].Answer, "the answer stands in the history")
	assert.Contains(t, w.calendar(), "STATUS:CANCELLED")
	assert.Empty(t, w.until(w.local("2025-11-08 14:00"), 6*time.Hour), "nothing more is said")
}

func TestWhoHasStoppedGetsNothingThatWaited(t *testing.T) {
	w := answering(t)
	night := w.person(commands.RecipientInput{Name: commands.Set("Cy"), Phone: commands.Set("+16125550103"), QuietFrom: commands.Set("08:00"), QuietTo: commands.Set("20:00")})
	w.bed("A1", "chard")
	w.snap()
	w.round()
	state := func() string {
		ms, err := w.service.Book.Messages(t.Context(), w.farmID, store.Page{})
		require.NoError(t, err)
		for _, m := range ms {
			if m.RecipientID == night.ID {
				return m.State
			}
		}
		return "none"
	}
	require.Equal(t, store.Queued, state(), "it waits for the end of the quiet hours")
	r, err := w.service.Book.Recipient(t.Context(), w.farmID, night.ID)
	require.NoError(t, err)
	r.MutedSMS = true
	w.mute(r)
	w.clock.Add(9 * time.Hour)
	require.NoError(t, w.service.Drain(t.Context()))
	assert.Equal(t, store.Dropped, state())
	for _, x := range w.caught.Texts() {
		assert.NotEqual(t, night.Phone, x.To, x.Text)
	}
}

func TestWithoutASecretNobodyCanReply(t *testing.T) {
	w := newWorld(t)
	assert.Equal(t, http.StatusNotFound, w.reply("harvested", gatewaySecret))
}

func (w *world) mute(r farm.Recipient) {
	w.Helper()
	require.NoError(w, w.service.Book.Write(w.Context(), func(tx store.Writer) error { return tx.UpdateRecipient(w.Context(), r) }))
}
