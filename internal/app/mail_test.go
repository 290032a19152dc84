package app_test

import (
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/gsm7"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/trial/npmtest"
)

// letter is a mail as mailparser of the Node registry reads it.
type letter struct {
	Subject, MessageID, InReplyTo, AutoSubmitted, Unsubscribe, UnsubscribePost, Text, HTML string
	References, Complaints                                                                 []string
	Date                                                                                   time.Time
	From, To                                                                               struct{ Name, Address string }
	Parts                                                                                  []struct {
		CID, Type, Disposition string
		Related, PNG           bool
		Bytes                  int
	}
	raw string
}

func (w *world) letters() []letter {
	w.Helper()
	var raw [][]byte
	for _, m := range w.caught.Mails() {
		raw = append(raw, m.Raw)
	}
	var out []letter
	npmtest.Run(w.T, "mail.mjs", raw, &out)
	require.Len(w, out, len(raw))
	for i := range out {
		out[i].raw = string(raw[i])
	}
	return out
}

// story tells several people in two languages about beds with plain and odd
// names, from the first notice to the look afterwards.
func (w *world) story() {
	w.service.Carrier.PublicURL = "https://farm.test"
	w.ann()
	w.person(commands.RecipientInput{Name: commands.Set(`Núñez, "Åda" 🥕`), Email: commands.Set("ada@farm.test"), Phone: commands.Set("+16125550102"),
		Language: commands.Set("es"), Units: commands.Set("metric")})
	w.bed("A1", "chard")
	w.bed(`Row 7; left, “north” <b>&amp; 🥕 ñandú`, "kale-curly")
	w.bed("Grandmother's long bed behind the second greenhouse, beside the old wall", "spinach")
	w.snap()
	w.round()
	w.sky.night("2025-11-06", -14) // a day earlier: moved
	w.until(w.local("2025-11-08 14:00"), 4*time.Hour)
}

func TestTheStoryAsItArrives(t *testing.T) {
	w := newWorld(t)
	w.story()
	t.Run("mails as another program reads them", func(t *testing.T) { w.mailsAreRead(t) })
	t.Run("texts are short and plain", func(t *testing.T) { w.textsAreShort(t) })
}

func (w *world) mailsAreRead(t *testing.T) {
	npmtest.Need(t)
	mails := w.letters()
	require.GreaterOrEqual(t, len(mails), 6)
	seen := map[string]bool{}
	for i, m := range mails {
		about := func(what string) string { return what + " of mail " + m.Subject }
		assert.NotEmpty(t, m.Subject)
		assert.Equal(t, w.caught.Mails()[i].Subject, m.Subject, "both parsers read the same")
		assert.False(t, seen[m.MessageID], about("message ID"))
		seen[m.MessageID] = true
		assert.Regexp(t, `^<[^@<> ]+@farm\.test>$`, m.MessageID)
		assert.Equal(t, "auto-generated", m.AutoSubmitted, about("RFC 3834"))
		assert.Equal(t, "notices@farm.test", m.From.Address)
		assert.NotEmpty(t, m.References, about("references"))
		assert.Equal(t, m.References[len(m.References)-1], m.InReplyTo)
		assert.True(t, strings.HasPrefix(m.Unsubscribe, "https://farm.test/u/"), about("List-Unsubscribe"))
		assert.Equal(t, "List-Unsubscribe=One-Click", m.UnsubscribePost, about("RFC 8058"))
		assert.Empty(t, m.Complaints, about("HTML"))
		assert.Contains(t, m.Text, "https://farm.test/", about("text"))
		assert.NotContains(t, m.Text, "[", about("missing phrase"))
		for _, brace := range regexp.MustCompile(`\{[a-z_]+\}`).FindAllString(m.Text+m.HTML+m.Subject, -1) {
			t.Errorf("%s: %s is not filled in", m.Subject, brace)
		}
		m.checkParts(t)
		m.checkLines(t)
	}
}

// checkParts: text first, HTML second, then pictures that the HTML shows.
func (m letter) checkParts(t *testing.T) {
	t.Helper()
	text, html := strings.Index(m.raw, "text/plain"), strings.Index(m.raw, "text/html")
	assert.True(t, 0 < text && text < html, m.Subject)
	shown := regexp.MustCompile(`src="cid:([^"]+)"`).FindAllStringSubmatch(m.HTML, -1)
	assert.Len(t, m.Parts, len(shown), m.Subject)
	have := map[string]bool{}
	for _, p := range m.Parts {
		assert.True(t, p.PNG && p.Type == "image/png" && p.Disposition == "inline" && p.Related, "%s: %+v", m.Subject, p)
		assert.Less(t, p.Bytes, 200<<10, m.Subject)
		have[strings.Trim(p.CID, "<>")] = true
	}
	for _, s := range shown {
		cid, err := url.PathUnescape(s[1])
		require.NoError(t, err)
		assert.True(t, have[cid], "%s: picture %s is not there", m.Subject, cid)
	}
}

// checkLines: RFC 5322, 2.1.1 and 2.2.3: header lines of at most 78 characters
// where they can be folded; a subject is all ASCII on the wire.
func (m letter) checkLines(t *testing.T) {
	t.Helper()
	header, _, _ := strings.Cut(m.raw, "\r\n\r\n")
	for line := range strings.SplitSeq(header, "\r\n") {
		foldable := strings.Contains(strings.TrimSpace(line[strings.Index(line, ":")+1:]), " ")
		if foldable {
			assert.LessOrEqual(t, len(line), 78, line)
		}
		assert.LessOrEqual(t, len(line), 998)
		for _, c := range []byte(line) {
			assert.Less(t, c, byte(0x7F), line)
		}
	}
}

// All mails about a bed and night hang together, whatever their kind.
func TestMailsOfOneEventAreOneThread(t *testing.T) {
	npmtest.Need(t)
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.round()
	w.until(w.local("2025-11-08 14:00"), 3*time.Hour)
	mails := w.letters()
	told := kinds(w.notices())
	require.Len(t, mails, len(told))
	require.GreaterOrEqual(t, len(told), 3)
	assert.Equal(t, notice.HarvestBefore, told[0])
	assert.Equal(t, notice.Inspect, told[len(told)-1])
	for _, m := range mails[1:] {
		assert.Equal(t, mails[0].References, m.References, m.Subject)
	}
	assert.Empty(t, mails[0].Unsubscribe, "an address without https is no one-click address")
	assert.Contains(t, mails[0].Text, "http://farm.test/u/", "but stands in the text")
}

// Source of the lengths: 3GPP TS 23.040, 9.2.3.24.1.
func (w *world) textsAreShort(t *testing.T) {
	texts := w.caught.Texts()
	require.GreaterOrEqual(t, len(texts), 6)
	most := 0
	for _, x := range texts {
		assert.True(t, gsm7.Encodable(x.Text), x.Text)
		assert.LessOrEqual(t, gsm7.Segments(x.Text), gsm7.MostSegments, x.Text)
		assert.NotContains(t, x.Text, "Reply HARVESTED", "nobody reads replies here")
		most = max(most, gsm7.Segments(x.Text))
		t.Log(x.Text)
	}
	assert.Equal(t, 2, most)
}
