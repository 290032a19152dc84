package catcher

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/smtp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func start(t *testing.T) *Catcher {
	t.Helper()
	c, err := Start(context.Background(), Options{Now: func() time.Time { return time.Date(2026, 11, 12, 14, 0, 0, 0, time.UTC) }})
	require.NoError(t, err)
	t.Cleanup(func() { _ = c.Close() })
	return c
}

const whole = "From: =?utf-8?q?W=C3=ADnterstand?= <notices@farm.test>\r\nTo: Ada <ada@farm.test>\r\n" +
	"Subject: =?utf-8?q?Bed_3_=E2=80=93_harvest?=\r\nMessage-ID: <n1@farm.test>\r\nMIME-Version: 1.0\r\n" +
	"Content-Type: multipart/related; boundary=a\r\n\r\n--a\r\nContent-Type: multipart/alternative; boundary=b\r\n\r\n" +
	"--b\r\nContent-Type: text/plain; charset=utf-8\r\nContent-Transfer-Encoding: quoted-printable\r\n\r\n" +
	"Harvest =E2=88=926 =C2=B0C, see https://farm.test/n/1?a=3D1.\r\n" +
	"--b\r\nContent-Type: text/html; charset=utf-8\r\n\r\n<p>Harvest</p><script>alert(1)</script><img src=\"cid:p@farm.test\">\r\n--b--\r\n" +
	"--a\r\nContent-Type: image/png\r\nContent-ID: <p@farm.test>\r\nContent-Disposition: inline; filename=bed.png\r\n" +
	"Content-Transfer-Encoding: base64\r\n\r\niVBORw0K\r\n--a--\r\n"

// The client is the standard library's, written by others than the server's.
func sendMail(t *testing.T, c *Catcher, raw string) error {
	t.Helper()
	return smtp.SendMail(c.SMTPAddr(), nil, "notices@farm.test", []string{"ada@farm.test"}, []byte(raw))
}

func sendText(t *testing.T, c *Catcher, kind, key, body string) (int, error) {
	t.Helper()
	req, err := http.NewRequest("POST", c.GatewayURL(), strings.NewReader(body))
	require.NoError(t, err)
	req.Header.Set("Content-Type", kind)
	req.Header.Set("Idempotency-Key", key)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, err
	}
	return resp.StatusCode, resp.Body.Close()
}

func get(t *testing.T, c *Catcher, path string) (*http.Response, string) {
	t.Helper()
	resp, err := http.Get(c.URL() + strings.TrimPrefix(path, "/"))
	require.NoError(t, err)
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	return resp, string(b)
}

func TestMailIsKeptAndRead(t *testing.T) {
	c := start(t)
	require.NoError(t, sendMail(t, c, whole))
	mails := c.Mails()
	require.Len(t, mails, 1)
	m := mails[0]
	assert.Empty(t, m.Problem)
	assert.Equal(t, 1, m.N)
	assert.Equal(t, []string{"ada@farm.test"}, m.To)
	assert.Equal(t, "Bed 3 – harvest", m.Subject)
	assert.Equal(t, "Wínterstand <notices@farm.test>", m.Sender)
	assert.Equal(t, "n1@farm.test", m.MessageID)
	assert.Equal(t, "Harvest −6 °C, see https://farm.test/n/1?a=1.", m.Text)
	assert.Contains(t, m.HTML, "<p>Harvest</p>")
	require.Len(t, m.Parts, 1)
	assert.Equal(t, Part{Name: "bed.png", ContentType: "image/png", CID: "p@farm.test", Inline: true, Bytes: []byte("\x89PNG\r\n")}, m.Parts[0])
	assert.Equal(t, "2026-11-12 14:00:00 +0000 UTC", m.At.String())
}

func TestMailThatCannotBeReadIsKept(t *testing.T) {
	c := start(t)
	require.NoError(t, sendMail(t, c, "Subject: x\r\nContent-Type: multipart/mixed; boundary=a\r\n\r\n--a\r\nno end"))
	require.Len(t, c.Mails(), 1)
	assert.NotEmpty(t, c.Mails()[0].Problem)
	_, page := get(t, c, "/mails/1")
	assert.Contains(t, page, "cannot be read in full")
}

func TestTextsInBothForms(t *testing.T) {
	c := start(t)
	status, err := sendText(t, c, "application/json", "k1", `{"to":"+15555550199","text":"Bed 3 & \"more\""}`)
	require.NoError(t, err)
	assert.Equal(t, 202, status)
	status, err = sendText(t, c, "application/x-www-form-urlencoded", "k2", "to=%2B15555550199&text=a+b&from=x")
	require.NoError(t, err)
	assert.Equal(t, 202, status)
	at := c.options.Now()
	assert.Equal(t, []Text{
		{N: 1, At: at, Key: "k1", To: "+15555550199", Text: `Bed 3 & "more"`},
		{N: 2, At: at, Key: "k2", To: "+15555550199", From: "x", Text: "a b"},
	}, c.Texts())
	for body, kind := range map[string]string{`{"to":"x"}`: "application/json", "{": "application/json", "to=%zz": "application/x-www-form-urlencoded", "x": "text/plain"} {
		status, err = sendText(t, c, kind, "k3", body)
		require.NoError(t, err)
		assert.Equal(t, 400, status, body)
	}
	assert.Len(t, c.Texts(), 2)
}

func TestFailuresAndCounts(t *testing.T) {
	c := start(t)
	c.FailMails(1, Later)
	c.FailMails(1, Never)
	c.FailMails(1, Drop)
	require.ErrorContains(t, sendMail(t, c, whole), "451")
	require.ErrorContains(t, sendMail(t, c, whole), "554")
	assert.Empty(t, c.Mails())
	require.Error(t, sendMail(t, c, whole))
	require.NoError(t, sendMail(t, c, whole))
	assert.Equal(t, map[string]int{"n1@farm.test": 2}, c.MailCounts(), "the repeat shows")

	c.FailTexts(1, Later)
	c.FailTexts(1, Never)
	c.FailTexts(2, Drop)
	const body = `{"to":"+15555550199","text":"x"}`
	for _, want := range []int{503, 422} {
		status, err := sendText(t, c, "application/json", "k", body)
		require.NoError(t, err)
		assert.Equal(t, want, status)
	}
	assert.Empty(t, c.Texts())
	// The standard client itself repeats a call with an Idempotency-Key whose
	// line broke while it was reused: at most one of the two is an error here.
	_, _ = sendText(t, c, "application/json", "k", body)
	_, _ = sendText(t, c, "application/json", "k", body)
	assert.GreaterOrEqual(t, c.TextCounts()["k"], 2)
}

func TestManyAtOnce(t *testing.T) {
	c := start(t)
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() { assert.NoError(t, sendMail(t, c, whole)) })
		all.Go(func() {
			_, err := sendText(t, c, "application/json", "k", `{"to":"+1","text":"x"}`)
			assert.NoError(t, err)
		})
	}
	all.Wait()
	assert.Len(t, c.Mails(), 20)
	assert.Equal(t, map[string]int{"k": 20}, c.TextCounts())
	for i, m := range c.Mails() {
		assert.Equal(t, i+1, m.N)
	}
}

func TestOnlyTheLatestAreKept(t *testing.T) {
	c, err := Start(context.Background(), Options{Keep: 2})
	require.NoError(t, err)
	defer c.Close()
	for range 3 {
		_, err := sendText(t, c, "application/json", "k", `{"to":"+1","text":"x"}`)
		require.NoError(t, err)
	}
	require.Len(t, c.Texts(), 2)
	assert.Equal(t, 2, c.Texts()[0].N)
	assert.Equal(t, map[string]int{"k": 3}, c.TextCounts(), "the count goes on")
}

func TestPages(t *testing.T) {
	c := start(t)
	_, page := get(t, c, "/")
	assert.Contains(t, page, "None so far.")
	require.NoError(t, sendMail(t, c, whole))
	_, err := sendText(t, c, "application/json", "k", `{"to":"+15555550199","text":"<b>x</b> http://farm.test/a."}`)
	require.NoError(t, err)

	resp, page := get(t, c, "/")
	assert.Contains(t, page, `<a href="/mails/1">Bed 3 – harvest</a>`)
	assert.Contains(t, page, `&lt;b&gt;x&lt;/b&gt; <a href="http://farm.test/a" rel="noreferrer">http://farm.test/a</a>.`)
	assert.NotContains(t, page, "<script")
	assert.Contains(t, resp.Header.Get("Content-Security-Policy"), "default-src 'none'")

	_, page = get(t, c, "/mails/1")
	assert.Contains(t, page, `sandbox="allow-popups`)
	assert.NotContains(t, page, "alert(1)")
	assert.Contains(t, page, `<a href="https://farm.test/n/1?a=1" rel="noreferrer">`)

	resp, page = get(t, c, "/mails/1/html")
	assert.Contains(t, resp.Header.Get("Content-Security-Policy"), "sandbox")
	assert.NotContains(t, resp.Header.Get("Content-Security-Policy"), "allow-scripts")
	assert.Contains(t, page, `<img src="parts/0">`)

	resp, page = get(t, c, "/mails/1/parts/0")
	assert.Equal(t, "image/png", resp.Header.Get("Content-Type"))
	assert.Equal(t, "\x89PNG\r\n", page)
	_, page = get(t, c, "/mails/1/source")
	assert.Equal(t, whole, page)
	for _, path := range []string{"/mails/2", "/mails/x", "/mails/1/parts/1", "/mails/1/parts/-1", "/elsewhere"} {
		resp, _ = get(t, c, path)
		assert.Equal(t, 404, resp.StatusCode, path)
	}
	var mails []Mail
	_, page = get(t, c, "/mails.json")
	require.NoError(t, json.Unmarshal([]byte(page), &mails))
	assert.Equal(t, "Bed 3 – harvest", mails[0].Subject)
	var texts []Text
	_, page = get(t, c, "/texts.json")
	require.NoError(t, json.Unmarshal([]byte(page), &texts))
	assert.Equal(t, c.Texts(), texts)
}

func TestOnlyForThisMachine(t *testing.T) {
	for _, addr := range []string{":0", "0.0.0.0:0", "[::]:0", "farm.test:0", "127.0.0.1"} {
		_, err := Start(context.Background(), Options{SMTPAddr: addr})
		assert.Error(t, err, addr)
		_, err = Start(context.Background(), Options{HTTPAddr: addr})
		assert.Error(t, err, addr)
	}
	c := start(t)
	req, err := http.NewRequest("GET", c.URL(), nil)
	require.NoError(t, err)
	req.Host = "mail.elsewhere.test"
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	assert.Equal(t, http.StatusMisdirectedRequest, resp.StatusCode)
}

func TestEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	c, err := Start(ctx, Options{})
	require.NoError(t, err)
	require.NoError(t, sendMail(t, c, whole))
	cancel()
	<-c.mail.Ended()
	require.Error(t, sendMail(t, c, whole))
	assert.Len(t, c.Mails(), 1, "what was caught stays readable")
	require.NoError(t, c.Close())
}

// The end of its context and a test's clean-up close it at the same moment.
func TestClosedByManyAtOnceAndAgain(t *testing.T) {
	for range 50 {
		ctx, cancel := context.WithCancel(context.Background())
		c, err := Start(ctx, Options{})
		require.NoError(t, err)
		var all sync.WaitGroup
		all.Go(cancel)
		for range 4 {
			all.Go(func() { assert.NoError(t, c.Close()) })
		}
		all.Wait()
		require.NoError(t, c.Close())
	}
}

func FuzzParseMail(f *testing.F) {
	f.Add([]byte(whole))
	f.Add([]byte("Content-Type: multipart/mixed; boundary=a\r\n\r\n--a\r\n\r\n--a--"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		if m := parseMail(raw); string(m.Raw) != string(raw) {
			t.Fatal("the source is lost")
		}
	})
}
