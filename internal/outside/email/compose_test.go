package email

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// part is a node of the MIME tree, read with the standard library.
type part struct {
	kind     string
	header   map[string][]string
	body     []byte
	children []part
}

func parse(t require.TestingT, header map[string][]string, r io.Reader) part {
	get := func(k string) string { return strings.Join(header[k], "") }
	kind, params, err := mime.ParseMediaType(get("Content-Type"))
	require.NoError(t, err)
	p := part{kind: kind, header: header}
	if strings.HasPrefix(kind, "multipart/") {
		for reader := multipart.NewReader(r, params["boundary"]); ; {
			child, err := reader.NextRawPart()
			if err == io.EOF {
				return p
			}
			require.NoError(t, err)
			p.children = append(p.children, parse(t, child.Header, child))
		}
	}
	switch get("Content-Transfer-Encoding") {
	case "quoted-printable":
		r = quotedprintable.NewReader(r)
	case "base64":
		r = base64.NewDecoder(base64.StdEncoding, r)
	}
	p.body, err = io.ReadAll(r)
	require.NoError(t, err)
	return p
}

func read(t require.TestingT, raw []byte) (mail.Header, part) {
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	require.NoError(t, err)
	return m.Header, parse(t, m.Header, m.Body)
}

func decode(t require.TestingT, s string) string {
	d, err := new(mime.WordDecoder).DecodeHeader(s)
	require.NoError(t, err)
	return d
}

var png = []byte("\x89PNG\r\n\x1a\n not a whole picture")

func full() Mail {
	m := note()
	m.ToName = "Åda Núñez"
	m.Subject = "Bed 3 · chard: harvest before Thu 21:00 (−6 °C)"
	m.Text = "Harvest before Thu 21:00.\n\nÜber −6 °C.\n" + strings.Repeat("long line ", 40) + "\n.\n..dots\n"
	m.HTML = `<p>Harvest</p><img src="cid:bed3@farm.test" alt="ten days">`
	m.References = []string{"e9@farm.test", "<n17.r1@farm.test>"}
	m.UnsubscribeURL = "https://farm.test/u/abc?k=1&n=2"
	m.Inline = []Attachment{{Name: "bed3.png", ContentType: "image/png", CID: "bed3@farm.test", Bytes: png}}
	m.Attachments = []Attachment{{Name: "plan å.csv", ContentType: "text/csv", Bytes: []byte("a,b\n1,2\n")}}
	return m
}

func TestHeaders(t *testing.T) {
	raw, err := compose("Winterstand <notices@farm.test>", full())
	require.NoError(t, err)
	h, _ := read(t, raw)
	assert.Equal(t, full().Subject, decode(t, h.Get("Subject")))
	assert.Equal(t, "<n17.r2@farm.test>", h.Get("Message-ID"))
	assert.Equal(t, "<e9@farm.test> <n17.r1@farm.test>", h.Get("References"))
	assert.Equal(t, "<n17.r1@farm.test>", h.Get("In-Reply-To"))
	assert.Equal(t, "auto-generated", h.Get("Auto-Submitted"))
	assert.Equal(t, "<https://farm.test/u/abc?k=1&n=2>", h.Get("List-Unsubscribe"))
	assert.Equal(t, "List-Unsubscribe=One-Click", h.Get("List-Unsubscribe-Post"))
	assert.Empty(t, h.Get("Precedence"))
	assert.Empty(t, h.Get("User-Agent"))
	to, err := h.AddressList("To")
	require.NoError(t, err)
	assert.Equal(t, []*mail.Address{{Name: "Åda Núñez", Address: "ada@farm.test"}}, to)
	date, err := h.Date()
	require.NoError(t, err)
	assert.True(t, date.Equal(full().Date))
	for name, values := range h {
		assert.Len(t, values, 1, name)
	}
}

func TestTreeWithPictureAndAttachment(t *testing.T) {
	raw, err := compose("a@farm.test", full())
	require.NoError(t, err)
	_, mixed := read(t, raw)
	require.Equal(t, "multipart/mixed", mixed.kind)
	require.Len(t, mixed.children, 2)
	related := mixed.children[0]
	require.Equal(t, "multipart/related", related.kind)
	require.Len(t, related.children, 2)
	alternative := related.children[0]
	require.Equal(t, "multipart/alternative", alternative.kind)
	require.Len(t, alternative.children, 2)
	text, html, picture := alternative.children[0], alternative.children[1], related.children[1]
	assert.Equal(t, "text/plain", text.kind, "plain text comes first")
	assert.Equal(t, full().Text, strings.ReplaceAll(string(text.body), "\r\n", "\n"))
	assert.Equal(t, "text/html", html.kind)
	assert.Equal(t, full().HTML, string(html.body))
	assert.Equal(t, "image/png", picture.kind)
	assert.Equal(t, []string{"<bed3@farm.test>"}, picture.header["Content-Id"])
	assert.Contains(t, picture.header["Content-Disposition"][0], "inline")
	assert.Equal(t, png, picture.body)
	assert.Equal(t, "a,b\n1,2\n", string(mixed.children[1].body))
	assert.Contains(t, mixed.children[1].header["Content-Disposition"][0], "attachment")
}

func TestSimplerTrees(t *testing.T) {
	for want, change := range map[string]func(*Mail){
		"text/plain":            func(m *Mail) { m.HTML, m.Inline, m.Attachments = "", nil, nil },
		"multipart/alternative": func(m *Mail) { m.Inline, m.Attachments = nil, nil },
		"multipart/related":     func(m *Mail) { m.Attachments = nil },
	} {
		m := full()
		change(&m)
		raw, err := compose("a@farm.test", m)
		require.NoError(t, err)
		_, p := read(t, raw)
		assert.Equal(t, want, p.kind)
	}
}

// RFC 5322, 2.1.1: lines of at most 998 octets, of our own at most 78 wished; CRLF only.
func TestLines(t *testing.T) {
	m := full()
	for i := range 60 {
		m.References = append(m.References, fmt.Sprintf("n%d.r1@farm.test", i))
	}
	raw, err := compose("a@farm.test", m)
	require.NoError(t, err)
	assert.NotContains(t, strings.ReplaceAll(string(raw), "\r\n", ""), "\n")
	for line := range strings.SplitSeq(string(raw), "\r\n") {
		assert.LessOrEqual(t, len(line), 100, line)
	}
	h, _ := read(t, raw)
	ids := strings.Fields(h.Get("References"))
	assert.Len(t, ids, mostReferences)
	assert.Equal(t, "<e9@farm.test>", ids[0], "the first of the event stays")
	assert.Equal(t, "<n59.r1@farm.test>", ids[len(ids)-1])
}

func TestUnsubscribeWithoutHTTPSHasNoOneClick(t *testing.T) {
	m := note()
	m.UnsubscribeURL = "http://127.0.0.1:8080/u/abc"
	raw, err := compose("a@farm.test", m)
	require.NoError(t, err)
	h, _ := read(t, raw)
	assert.Equal(t, "<http://127.0.0.1:8080/u/abc>", h.Get("List-Unsubscribe"))
	assert.Empty(t, h.Get("List-Unsubscribe-Post"), "RFC 8058, 3.1 asks for https")
}

func TestRefused(t *testing.T) {
	for want, change := range map[string]func(*Mail){
		"mail to":                    func(m *Mail) { m.To = "ada" },
		"plain address":              func(m *Mail) { m.To = "Ada <ada@farm.test>" },
		"name of the recipient":      func(m *Mail) { m.ToName = "A\nBcc: x@y.test" },
		"mail subject":               func(m *Mail) { m.Subject = "a\rb" },
		"mail text":                  func(m *Mail) { m.Text = "" },
		"mail date":                  func(m *Mail) { m.Date = time.Time{} },
		"message-id":                 func(m *Mail) { m.MessageID = "" },
		`message-id "no at"`:         func(m *Mail) { m.MessageID = "no at" },
		`message-id "a@b> <c@d"`:     func(m *Mail) { m.References = []string{"a@b> <c@d"} },
		"mail references":            func(m *Mail) { m.References = []string{"a@b\r\n"} },
		"unsubscribe address":        func(m *Mail) { m.UnsubscribeURL = "mailto:x@y.test" },
		"must be an https address":   func(m *Mail) { m.UnsubscribeURL = "https://x.test/>,<mailto:y@z.test" },
		"inline file":                func(m *Mail) { m.HTML, m.Inline = "x", []Attachment{{Name: "a.png"}} },
		"no HTML":                    func(m *Mail) { m.Inline = []Attachment{{Name: "a.png", CID: "c@d"}} },
		"mail file 1":                func(m *Mail) { m.Attachments = []Attachment{{Name: "a\r\nX: y.csv"}} },
		"line break or control char": func(m *Mail) { m.Attachments = []Attachment{{ContentType: "text/csv\nX: y"}} },
	} {
		m := note()
		change(&m)
		_, err := compose("a@farm.test", m)
		assert.ErrorContains(t, err, want)
	}
}

// Whatever a header field is given: either it is refused, or exactly the known
// header fields come out.
func TestNoHeaderCanBeSmuggledIn(t *testing.T) {
	known := map[string]bool{
		"Auto-Submitted": true, "Content-Transfer-Encoding": true, "Content-Type": true, "Date": true, "From": true, "In-Reply-To": true,
		"List-Unsubscribe": true, "List-Unsubscribe-Post": true, "Message-Id": true, "Mime-Version": true, "References": true, "Subject": true, "To": true,
	}
	nasty := rapid.OneOf(rapid.Just("x"), rapid.StringOf(rapid.SampledFrom([]rune("ab:@<>, \"=?é"))),
		rapid.StringOf(rapid.SampledFrom([]rune("ab:@<>, \"\r\n\t=?é\u2028\x00"))))
	rapid.Check(t, func(t *rapid.T) {
		m := note()
		m.Subject, m.ToName = nasty.Draw(t, "subject"), nasty.Draw(t, "name")
		m.MessageID = nasty.Draw(t, "id") + "@x"
		m.References = []string{"a@" + nasty.Draw(t, "reference")}
		m.UnsubscribeURL = "https://x/" + nasty.Draw(t, "address")
		raw, err := compose("a@farm.test", m)
		if err != nil {
			return
		}
		h, p := read(t, raw)
		for name := range h {
			assert.True(t, known[name], name)
		}
		assert.Equal(t, strings.TrimSpace(m.Subject), strings.TrimSpace(decode(t, h.Get("Subject"))))
		assert.Equal(t, "text/plain", p.kind)
	})
}

// compose writes the message as it goes over the wire.
func compose(from string, m Mail) ([]byte, error) {
	msg, err := message(from, m)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	_, err = msg.WriteTo(&b)
	return b.Bytes(), err
}
