package sms

import (
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/message/reply"
)

// InboundSettings say how the gateway proves that a reply comes from it and
// what it calls the fields. Exactly one of Secret and Token is set.
type InboundSettings struct {
	Secret          string // signs timestamp + "." + body with HMAC-SHA256, in hexadecimal
	SignatureHeader string // default X-Signature; a prefix "sha256=" is allowed
	TimestampHeader string // default X-Timestamp: Unix seconds
	Token           string // or: stands as it is in TokenHeader
	TokenHeader     string // default X-Token; "Bearer " before it is allowed
	FromField       string // default from; a dot goes into JSON objects: message.from
	TextField       string // default text
	IDField         string // default id; a reply without it is not refused
}

// Limits of a reply.
const (
	ClockSkew   = 5 * time.Minute // how far a signed timestamp may be from now
	bodyLimit   = 64 << 10
	leastSecret = 16
)

// Inbound reads replies that a gateway posts.
type Inbound struct{ settings InboundSettings }

// NewInbound checks the settings.
func NewInbound(s InboundSettings) (*Inbound, error) {
	if (s.Secret == "") == (s.Token == "") {
		return nil, errors.New("sms inbound: set either secret or token")
	}
	if n := len(s.Secret + s.Token); n < leastSecret {
		return nil, fmt.Errorf("sms inbound: the secret or token has %d characters, it needs at least %d", n, leastSecret)
	}
	def(&s.SignatureHeader, "X-Signature")
	def(&s.TimestampHeader, "X-Timestamp")
	def(&s.TokenHeader, "X-Token")
	def(&s.FromField, "from")
	def(&s.TextField, "text")
	def(&s.IDField, "id")
	return &Inbound{settings: s}, nil
}

func def(s *string, value string) {
	if *s == "" {
		*s = value
	}
}

// Read verifies and reads one posted reply. Errors: reply.ErrNotSigned, reply.ErrNoReply
// (wrapped with what is wrong).
func (in *Inbound) Read(r *http.Request, now time.Time) (reply.Received, error) {
	if r.Method != http.MethodPost {
		return reply.Received{}, fmt.Errorf("%w: method %s, must be POST", reply.ErrNoReply, r.Method)
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, bodyLimit+1))
	if err != nil {
		return reply.Received{}, fmt.Errorf("%w: %w", reply.ErrNoReply, err)
	}
	if len(body) > bodyLimit {
		return reply.Received{}, fmt.Errorf("%w: body is longer than %d bytes", reply.ErrNoReply, bodyLimit)
	}
	if !in.genuine(r.Header, body, now) {
		return reply.Received{}, reply.ErrNotSigned
	}
	return in.parse(r.Header.Get("Content-Type"), body)
}

func (in *Inbound) genuine(h http.Header, body []byte, now time.Time) bool {
	if in.settings.Token != "" {
		given := strings.TrimPrefix(h.Get(in.settings.TokenHeader), "Bearer ")
		return same(given, in.settings.Token)
	}
	stamp := h.Get(in.settings.TimestampHeader)
	seconds, err := strconv.ParseInt(stamp, 10, 64)
	if err != nil || now.Sub(time.Unix(seconds, 0)).Abs() > ClockSkew {
		return false
	}
	given := strings.TrimPrefix(h.Get(in.settings.SignatureHeader), "sha256=")
	return same(strings.ToLower(given), Sign(in.settings.Secret, stamp, body))
}

// same compares in a time that depends on neither content nor length.
func same(a, b string) bool {
	x, y := sha256.Sum256([]byte(a)), sha256.Sum256([]byte(b))
	return subtle.ConstantTimeCompare(x[:], y[:]) == 1
}

// Sign is the signature of a body at a timestamp, in hexadecimal.
func Sign(secret, timestamp string, body []byte) string {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(timestamp + "."))
	mac.Write(body)
	return hex.EncodeToString(mac.Sum(nil))
}

func (in *Inbound) parse(contentType string, body []byte) (reply.Received, error) {
	kind, _, err := mime.ParseMediaType(contentType)
	if err != nil {
		return reply.Received{}, fmt.Errorf("%w: content type %q", reply.ErrNoReply, contentType)
	}
	var field func(name string) string
	switch kind {
	case "application/json":
		field, err = jsonField(body)
	case "application/x-www-form-urlencoded":
		var values url.Values
		values, err = url.ParseQuery(string(body))
		field = values.Get
	default:
		return reply.Received{}, fmt.Errorf("%w: content type %s, must be application/json or application/x-www-form-urlencoded", reply.ErrNoReply, kind)
	}
	if err != nil {
		return reply.Received{}, fmt.Errorf("%w: %w", reply.ErrNoReply, err)
	}
	got := reply.Received{From: international(field(in.settings.FromField)), Text: field(in.settings.TextField), ID: field(in.settings.IDField)}
	if got.From == "" {
		return reply.Received{}, fmt.Errorf("%w: field %s is missing or empty", reply.ErrNoReply, in.settings.FromField)
	}
	return got, nil
}

func jsonField(body []byte) (func(string) string, error) {
	var root map[string]any
	d := json.NewDecoder(strings.NewReader(string(body)))
	d.UseNumber()
	if err := d.Decode(&root); err != nil {
		return nil, err
	}
	return func(name string) string {
		var v any = root
		for key := range strings.SplitSeq(name, ".") {
			object, ok := v.(map[string]any)
			if !ok {
				return ""
			}
			v = object[key]
		}
		switch v := v.(type) {
		case string:
			return v
		case json.Number:
			return v.String()
		}
		return ""
	}, nil
}

// international puts the plus before digits that may be a full number.
func international(from string) string {
	from = strings.TrimSpace(from)
	if e164.MatchString("+" + from) {
		return "+" + from
	}
	return from
}
