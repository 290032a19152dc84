// Package link makes links that nobody can guess or change: a short text with
// an HMAC-SHA256 (RFC 2104) of it.
package link

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// ErrNotSigned is the error of a token that was not made here, or has ended.
var ErrNotSigned = errors.New("the link is not valid or has ended")

// Signer signs for one purpose each: a token for answering is none for
// unsubscribing.
type Signer struct{ Secret []byte }

// Token carries parts, none of which may hold a dot. until zero: for ever.
func (s Signer) Token(purpose string, until time.Time, parts ...string) string {
	end := "0"
	if !until.IsZero() {
		end = strconv.FormatInt(until.Unix(), 36)
	}
	text := strings.Join(append([]string{end}, parts...), ".")
	return text + "." + s.mac(purpose, text)
}

// Read gives the parts back. now decides whether the token has ended.
func (s Signer) Read(purpose, token string, now time.Time) ([]string, error) {
	cut := strings.LastIndexByte(token, '.')
	if cut < 0 {
		return nil, ErrNotSigned
	}
	text, mac := token[:cut], token[cut+1:]
	if !hmac.Equal([]byte(mac), []byte(s.mac(purpose, text))) {
		return nil, ErrNotSigned
	}
	parts := strings.Split(text, ".")
	end, err := strconv.ParseInt(parts[0], 36, 64)
	if err != nil || end != 0 && now.Unix() > end {
		return nil, fmt.Errorf("%w", ErrNotSigned)
	}
	return parts[1:], nil
}

// macBytes of the HMAC are kept: 96 bits, the least that RFC 2104 §5 advises is
// 80. Short links fit into a text message.
const macBytes = 12

func (s Signer) mac(purpose, text string) string {
	h := hmac.New(sha256.New, s.Secret)
	h.Write([]byte(purpose + "\x00" + text))
	return base64.RawURLEncoding.EncodeToString(h.Sum(nil)[:macBytes])
}
