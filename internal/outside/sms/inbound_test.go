package sms

import (
	"crypto/hmac"
	"encoding/hex"
	"net/http/httptest"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/reply"
)

var noon = time.Date(2026, 11, 12, 12, 0, 0, 0, time.UTC)

const secret = "a secret of some length"

func posted(t *testing.T, s InboundSettings, contentType, body string, headers map[string]string) (reply.Received, error) {
	t.Helper()
	in, err := NewInbound(s)
	require.NoError(t, err)
	r := httptest.NewRequest("POST", "/replies", strings.NewReader(body))
	r.Header.Set("Content-Type", contentType)
	for k, v := range headers {
		r.Header.Set(k, v)
	}
	return in.Read(r, noon)
}

func signed(at time.Time, body string) map[string]string {
	stamp := strconv.FormatInt(at.Unix(), 10)
	return map[string]string{"X-Timestamp": stamp, "X-Signature": "sha256=" + Sign(secret, stamp, []byte(body))}
}

func TestSignedReply(t *testing.T) {
	body := `{"message":{"from":"15555550199","text":"HARVESTED 40 KG","id":77}}`
	set := InboundSettings{Secret: secret, FromField: "message.from", TextField: "message.text", IDField: "message.id"}
	got, err := posted(t, set, "application/json; charset=utf-8", body, signed(noon.Add(-4*time.Minute), body))
	require.NoError(t, err)
	assert.Equal(t, reply.Received{From: "+15555550199", Text: "HARVESTED 40 KG", ID: "77"}, got)
}

func TestReplyNotFromTheGateway(t *testing.T) {
	body := `{"from":"+15555550199","text":"STOP"}`
	late, future, good := signed(noon.Add(-6*time.Minute), body), signed(noon.Add(6*time.Minute), body), signed(noon, body)
	moved := map[string]string{"X-Timestamp": signed(noon.Add(time.Minute), body)["X-Timestamp"], "X-Signature": good["X-Signature"]}
	for name, headers := range map[string]map[string]string{
		"nothing": {}, "late": late, "future": future, "timestamp moved": moved,
		"no timestamp": {"X-Signature": good["X-Signature"]}, "of another body": signed(noon, body+" "),
		"short": {"X-Timestamp": good["X-Timestamp"], "X-Signature": good["X-Signature"][:20]},
		"token": {"X-Token": secret},
	} {
		_, err := posted(t, InboundSettings{Secret: secret}, "application/json", body, headers)
		assert.ErrorIs(t, err, reply.ErrNotSigned, name)
	}
	_, err := posted(t, InboundSettings{Secret: secret}, "application/json", body, good)
	require.NoError(t, err)
}

func TestTokenReply(t *testing.T) {
	set := InboundSettings{Token: secret, TokenHeader: "Authorization", FromField: "From", TextField: "Body"}
	got, err := posted(t, set, "application/x-www-form-urlencoded", "From=%2B15555550199&Body=alto", map[string]string{"Authorization": "Bearer " + secret})
	require.NoError(t, err)
	assert.Equal(t, reply.Received{From: "+15555550199", Text: "alto"}, got)
	for _, token := range []string{"", "x", secret + "x"} {
		_, err = posted(t, set, "application/x-www-form-urlencoded", "From=%2B15555550199", map[string]string{"Authorization": token})
		assert.ErrorIs(t, err, reply.ErrNotSigned)
	}
}

func TestReplyThatCannotBeRead(t *testing.T) {
	set := InboundSettings{Secret: secret}
	for body, kind := range map[string]string{
		`{"from"`: "application/json", `[1]`: "application/json", `{"text":"x"}`: "application/json",
		`{"from":["x"]}`: "application/json", "a=b": "application/x-www-form-urlencoded", "<x/>": "text/xml", "x": "",
		strings.Repeat("x", bodyLimit+1): "application/json",
	} {
		_, err := posted(t, set, kind, body, signed(noon, body))
		assert.ErrorIs(t, err, reply.ErrNoReply, "%.40s", body)
	}
	in, err := NewInbound(set)
	require.NoError(t, err)
	_, err = in.Read(httptest.NewRequest("GET", "/replies?from=1", nil), noon)
	assert.ErrorIs(t, err, reply.ErrNoReply, "a GET changes nothing")
}

func TestInboundSettingsThatAreRefused(t *testing.T) {
	for _, s := range []InboundSettings{{}, {Secret: secret, Token: secret}, {Secret: "short"}, {Token: "short"}} {
		_, err := NewInbound(s)
		assert.Error(t, err)
	}
}

// The reference is openssl's own HMAC.
func TestSignatureIsOpenSSLs(t *testing.T) {
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("openssl is not installed: the signature was not compared with its HMAC")
	}
	cmd := exec.Command(openssl, "dgst", "-sha256", "-hmac", secret, "-r")
	cmd.Stdin = strings.NewReader("1700000000.{\"a\":1}")
	out, err := cmd.Output()
	require.NoError(t, err)
	theirs, err := hex.DecodeString(strings.Fields(string(out))[0])
	require.NoError(t, err)
	ours, err := hex.DecodeString(Sign(secret, "1700000000", []byte(`{"a":1}`)))
	require.NoError(t, err)
	assert.True(t, hmac.Equal(theirs, ours))
}

func FuzzInboundJSON(f *testing.F) {
	f.Add(`{"from":"15555550199","text":"x","id":1e3}`)
	f.Add(`{"from":{"from":1}}`)
	in, err := NewInbound(InboundSettings{Token: secret, FromField: "from.from"})
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, body string) {
		if r, err := in.parse("application/json", []byte(body)); err == nil && r.From == "" {
			t.Fatalf("%q: a reply from nobody", body)
		}
	})
}
