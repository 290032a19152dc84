package sms

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// call is what a gateway saw.
type call struct {
	method, path, body string
	query              url.Values
	header             http.Header
}

// gateway answers with the given statuses, one a call, then 200.
func gateway(t *testing.T, answer func(w http.ResponseWriter, n int)) (string, *[]call) {
	t.Helper()
	var calls []call
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, _ := io.ReadAll(r.Body)
		calls = append(calls, call{r.Method, r.URL.Path, string(b), r.URL.Query(), r.Header})
		if answer != nil {
			answer(w, len(calls))
		}
	}))
	t.Cleanup(s.Close)
	return s.URL, &calls
}

func jsonSettings(url string) Settings {
	return Settings{URL: url + "/send", Headers: map[string]string{"Authorization": "Bearer s3cret"}, From: "+15555550100",
		Body: `{"to":{{json .To}},"from":{{json .From}},"text":{{json .Text}},"ref":{{json .Key}}}`}
}

func text() Text {
	return Text{To: "+15555550199", Text: "Bed \"3\": harvest before Thu 21:00\nñ & €", Key: "n17.r2.ada.sms"}
}

func mustSend(t *testing.T, s Settings, x Text) {
	t.Helper()
	g, err := New(s)
	require.NoError(t, err)
	retry, err := g.Send(context.Background(), x)
	require.NoError(t, err)
	assert.False(t, retry)
}

func TestJSON(t *testing.T) {
	url, calls := gateway(t, nil)
	mustSend(t, jsonSettings(url), text())
	require.Len(t, *calls, 1)
	c := (*calls)[0]
	var got map[string]string
	require.NoError(t, json.Unmarshal([]byte(c.body), &got))
	assert.Equal(t, map[string]string{"to": text().To, "from": "+15555550100", "text": text().Text, "ref": text().Key}, got)
	assert.Equal(t, http.MethodPost, c.method)
	assert.Equal(t, "application/json", c.header.Get("Content-Type"))
	assert.Equal(t, "Bearer s3cret", c.header.Get("Authorization"))
	assert.Equal(t, text().Key, c.header.Get("Idempotency-Key"))
}

func TestForm(t *testing.T) {
	address, calls := gateway(t, nil)
	mustSend(t, Settings{URL: address, Body: "To={{form .To}}&Body={{form .Text}}"}, text())
	got, err := url.ParseQuery((*calls)[0].body)
	require.NoError(t, err)
	assert.Equal(t, url.Values{"To": {text().To}, "Body": {text().Text}}, got)
	assert.Equal(t, "application/x-www-form-urlencoded", (*calls)[0].header.Get("Content-Type"))
}

func TestQuery(t *testing.T) {
	url, calls := gateway(t, nil)
	mustSend(t, Settings{Method: "GET", URL: url + "/cgi?to={{query (digits .To)}}&text={{query .Text}}"}, text())
	c := (*calls)[0]
	assert.Equal(t, "15555550199", c.query.Get("to"))
	assert.Equal(t, text().Text, c.query.Get("text"))
	assert.Empty(t, c.body)
}

func TestXML(t *testing.T) {
	url, calls := gateway(t, nil)
	mustSend(t, Settings{URL: url, Headers: map[string]string{"Content-Type": "application/xml"},
		Body: "<m to='{{xml .To}}'>{{xml .Text}}</m>"}, text())
	assert.Contains(t, (*calls)[0].body, "Bed &#34;3&#34;")
}

func TestEveryTryCarriesTheSameKey(t *testing.T) {
	url, calls := gateway(t, func(w http.ResponseWriter, n int) {
		if n < 3 {
			w.WriteHeader(502)
		}
	})
	g, err := New(jsonSettings(url))
	require.NoError(t, err)
	for range 2 {
		retry, err := g.Send(context.Background(), text())
		require.ErrorContains(t, err, "502")
		assert.True(t, retry)
	}
	_, err = g.Send(context.Background(), text())
	require.NoError(t, err)
	require.Len(t, *calls, 3)
	for _, c := range *calls {
		assert.Equal(t, (*calls)[0].body, c.body)
		assert.Equal(t, text().Key, c.header.Get("Idempotency-Key"))
	}
}

func TestStatuses(t *testing.T) {
	for status, retry := range map[int]bool{
		301: true, 307: true, 400: false, 401: true, 402: true, 403: false, 404: false, 408: true,
		422: false, 429: true, 500: true, 503: true,
	} {
		url, calls := gateway(t, func(w http.ResponseWriter, _ int) {
			w.Header().Set("Location", "/elsewhere")
			w.WriteHeader(status)
			_, _ = io.WriteString(w, "because\n\tof this")
		})
		g, err := New(jsonSettings(url))
		require.NoError(t, err)
		got, err := g.Send(context.Background(), text())
		require.ErrorContains(t, err, `"because of this"`)
		assert.Equal(t, retry, got, "%d", status)
		assert.Len(t, *calls, 1, "no redirect is followed")
	}
}

func TestSuccessRules(t *testing.T) {
	for _, c := range []struct {
		rule, pattern, answer string
		status                int
		ok                    bool
	}{
		{"", "", "", 204, true},
		{"200,202", "", "", 202, true},
		{"200,202", "", "", 201, false},
		{"200-204", "", "", 203, true},
		{"", `"status":\s*"(sent|queued)"`, `{"status": "queued"}`, 200, true},
		{"", `"status":\s*"(sent|queued)"`, `{"status": "failed"}`, 200, false},
	} {
		url, _ := gateway(t, func(w http.ResponseWriter, _ int) {
			w.WriteHeader(c.status)
			_, _ = io.WriteString(w, c.answer)
		})
		s := jsonSettings(url)
		s.Success, s.SuccessBody = c.rule, c.pattern
		g, err := New(s)
		require.NoError(t, err)
		retry, err := g.Send(context.Background(), text())
		assert.Equal(t, c.ok, err == nil, "%+v: %v", c, err)
		assert.Equal(t, !c.ok, retry, "%+v", c)
	}
}

func TestRetryAfterIsHonoured(t *testing.T) {
	now := time.Date(2026, 11, 12, 14, 0, 0, 0, time.UTC)
	for header, want := range map[string]time.Duration{
		"120":                           2 * time.Minute,
		"Thu, 12 Nov 2026 14:03:00 GMT": 3 * time.Minute, // RFC 9110, 10.2.3 allows both
		"999999999999":                  time.Hour,
		"-5":                            0,
		"soon":                          0,
	} {
		url, calls := gateway(t, func(w http.ResponseWriter, n int) {
			if n == 1 {
				w.Header().Set("Retry-After", header)
				w.WriteHeader(429)
			}
		})
		g, err := New(jsonSettings(url))
		require.NoError(t, err)
		clock := now
		g.now = func() time.Time { return clock }
		retry, err := g.Send(context.Background(), text())
		require.Error(t, err)
		assert.True(t, retry)
		var refusal *Refusal
		require.ErrorAs(t, err, &refusal)
		assert.Equal(t, want, refusal.After, header)
		if want == 0 {
			continue
		}
		clock = now.Add(want - time.Second)
		retry, err = g.Send(context.Background(), text())
		require.ErrorContains(t, err, "wait another 1s")
		assert.True(t, retry)
		assert.Len(t, *calls, 1, "the gateway is left alone until then")
		clock = now.Add(want)
		_, err = g.Send(context.Background(), text())
		require.NoError(t, err)
	}
}

func TestAnswerWithoutEnd(t *testing.T) {
	url, _ := gateway(t, func(w http.ResponseWriter, _ int) {
		w.WriteHeader(500)
		for range 400 {
			_, _ = io.WriteString(w, strings.Repeat("x", 4096))
		}
	})
	g, err := New(jsonSettings(url))
	require.NoError(t, err)
	_, err = g.Send(context.Background(), text())
	require.Error(t, err)
	assert.Less(t, len(err.Error()), 400)
}

func TestNoAnswerAndNoGateway(t *testing.T) {
	done := make(chan struct{})
	s := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-done }))
	t.Cleanup(s.Close)
	t.Cleanup(func() { close(done) })
	set := Settings{URL: s.URL + "/?password=s3cret", Body: jsonSettings("").Body, Timeout: 100 * time.Millisecond}
	for range 2 {
		g, err := New(set)
		require.NoError(t, err)
		retry, err := g.Send(context.Background(), text())
		require.Error(t, err)
		assert.True(t, retry)
		assert.NotContains(t, err.Error(), "s3cret")
		set.URL = "http://127.0.0.1:1/?password=s3cret"
	}
}

func TestTextsThatAreRefused(t *testing.T) {
	url, calls := gateway(t, nil)
	g, err := New(jsonSettings(url))
	require.NoError(t, err)
	for want, x := range map[string]Text{
		"must be like": {To: "5550199", Text: "x", Key: "k"},
		"no text":      {To: "+15555550199", Key: "k"},
		"no key":       {To: "+15555550199", Text: "x"},
		"line break":   {To: "+15555550199", Text: "x", Key: "a\nb"},
	} {
		s := jsonSettings(url)
		s.Headers["Idempotency-Key"] = "{{.Key}}"
		if want == "line break" {
			g, err = New(s)
			require.NoError(t, err)
		}
		retry, err := g.Send(context.Background(), x)
		require.ErrorContains(t, err, want)
		assert.False(t, retry)
	}
	assert.Empty(t, *calls)
}

func TestSettingsAreTriedAtStart(t *testing.T) {
	good := jsonSettings("https://gateway.test")
	for _, c := range []struct {
		want   string
		change func(*Settings)
	}{
		{"sms url: is empty", func(s *Settings) { s.URL = "" }},
		{"no http or https address", func(s *Settings) { s.URL = "gateway.test/send" }},
		{"no http or https address", func(s *Settings) { s.URL = "https://gateway.test/{{.Text}}" }},
		{"host must not depend", func(s *Settings) { s.URL = "https://{{digits .To}}.test/" }},
		{"sms method", func(s *Settings) { s.Method = "DELETE" }},
		{"a GET has none", func(s *Settings) { s.Method = "GET" }},
		{"sms timeout", func(s *Settings) { s.Timeout = -1 }},
		{"sms body", func(s *Settings) { s.Body = "{{.Text" }},
		{"known are {{.To}}", func(s *Settings) { s.Body = `{"text":{{json .Message}}}` }},
		{`function "upper" not defined`, func(s *Settings) { s.Body = "{{upper .Text}}" }},
		{"not valid JSON", func(s *Settings) { s.Body = `{"to":"{{.To}}","text":"{{.Text}}"}` }},
		{"not valid JSON", func(s *Settings) { s.Body = `{"to":"{{.To}}","text":"{{json .Text}}"}` }},
		{"no valid form", func(s *Settings) { s.Body = "to={{form .To}}&text={{.Text}}" }},
		{"text does not arrive", func(s *Settings) { s.Body = `{"to":{{json .To}}}` }},
		{"number of the recipient", func(s *Settings) { s.Body = `{"text":{{json .Text}}}` }},
		{"write {{query .Text}}", func(s *Settings) { s.Body, s.Method = "", "GET" }},
		{"sms headers \"a b\"", func(s *Settings) { s.Headers = map[string]string{"a b": "c"} }},
		{"sms headers X-T", func(s *Settings) { s.Headers = map[string]string{"X-T": "{{.Text}}"} }},
		{"sms success", func(s *Settings) { s.Success = "404" }},
		{"sms success", func(s *Settings) { s.Success = "204-200" }},
		{"sms success_body", func(s *Settings) { s.SuccessBody = "(" }},
		{"longer than 64 KiB", func(s *Settings) { s.Body = `{{range 1000000}}xxxxxxxxxx{{end}}` }},
	} {
		s := good
		s.Headers = map[string]string{}
		c.change(&s)
		_, err := New(s)
		assert.ErrorContains(t, err, c.want)
	}
	_, err := New(good)
	require.NoError(t, err)
}

func TestUnencryptedIsSaidAloud(t *testing.T) {
	assert.Contains(t, Settings{URL: "http://gateway.test/?to={{.To}}"}.Warning(), "UNENCRYPTED to gateway.test")
	for _, u := range []string{"https://gateway.test", "http://127.0.0.1:99/{{.To}}", "http://localhost/"} {
		assert.Empty(t, Settings{URL: u}.Warning(), u)
	}
}

// Whatever the text: it arrives as it was, in a body or an address.
func TestAnyTextArrives(t *testing.T) {
	address, calls := gateway(t, nil)
	asJSON, err := New(jsonSettings(address))
	require.NoError(t, err)
	asForm, err := New(Settings{URL: address + "/?text={{query .Text}}", Body: "to={{form .To}}&text={{form .Text}}"})
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		x := text()
		x.Text = rapid.StringN(1, 200, -1).Draw(t, "text")
		*calls = nil
		for _, g := range []*Gateway{asJSON, asForm} {
			_, err := g.Send(context.Background(), x)
			require.NoError(t, err)
		}
		var got map[string]string
		require.NoError(t, json.Unmarshal([]byte((*calls)[0].body), &got))
		assert.Equal(t, x.Text, got["text"])
		form, err := url.ParseQuery((*calls)[1].body)
		require.NoError(t, err)
		assert.Equal(t, x.Text, form.Get("text"))
		assert.Equal(t, x.Text, (*calls)[1].query.Get("text"))
	})
}
