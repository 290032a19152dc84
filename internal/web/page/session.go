package page

import (
	"crypto/rand"
	"encoding/base32"
	"errors"
	"net/http"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
)

// sessionFor is how long a browser stays signed in.
const sessionFor = 30 * 24 * time.Hour

// cookieName: the prefix makes browsers refuse the cookie from anywhere but
// this very host over https (RFC 6265bis, __Host-).
func (s *Site) cookieName(name string) string {
	if s.https() {
		return "__Host-winterstand-" + name
	}
	return "winterstand-" + name
}

func (s *Site) https() bool { return strings.HasPrefix(s.PublicURL, "https://") }

func (v *visit) setCookie(name, value string, until time.Time) {
	c := &http.Cookie{Name: v.cookieName(name), Value: value, Path: "/", Expires: until, MaxAge: int(until.Sub(v.now).Seconds()),
		HttpOnly: true, Secure: v.https(), SameSite: http.SameSiteLaxMode}
	if value == "" {
		c.MaxAge = -1
	}
	http.SetCookie(v.w, c)
}

func (v *visit) cookie(name string) string {
	c, err := v.r.Cookie(v.cookieName(name))
	if err != nil {
		return ""
	}
	return c.Value
}

func random() string {
	b := make([]byte, 20)
	rand.Read(b) // never fails: it ends the program instead (crypto/rand)
	return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(b))
}

// signIn begins a session. byToken is the hash of the API token that was shown,
// empty for a recipient: it rides in the cookie, so that revoking the token ends
// the session too.
func (v *visit) signIn(farmID, recipientID int64, scope, byToken string) error {
	value := random() + "." + byToken
	s := store.Session{Hash: commands.HashToken(value), FarmID: farmID, RecipientID: recipientID, Scope: scope, CSRF: random(), Until: v.now.Add(sessionFor)}
	err := v.Commands.Store.Write(v.ctx(), func(w store.Writer) error { return w.AddSession(v.ctx(), s) })
	if err != nil {
		return err
	}
	v.setCookie("session", value, s.Until)
	return nil
}

// recognise finds out who asks. A session that has ended, whose recipient was
// removed or whose token was revoked is none.
func (v *visit) recognise() error {
	value := v.cookie("session")
	if value == "" {
		return nil
	}
	s, err := v.books().Session(v.ctx(), commands.HashToken(value))
	if err == nil && v.now.Before(s.Until) {
		err = v.welcome(s, value)
	}
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	return err
}

func (v *visit) welcome(s store.Session, value string) error {
	var who farm.Recipient
	var err error
	if s.RecipientID != 0 {
		if who, err = v.books().Recipient(v.ctx(), s.FarmID, s.RecipientID); err != nil || who.RemovedAt.Known() {
			return err
		}
	} else {
		_, hash, _ := strings.Cut(value, ".")
		if _, err := v.books().Token(v.ctx(), hash); err != nil {
			return err
		}
	}
	owner, err := v.books().Farm(v.ctx(), s.FarmID)
	if err != nil {
		return err
	}
	v.session = s
	return v.greet(owner, who)
}

func (v *visit) signOut() error {
	err := v.Commands.Store.Write(v.ctx(), func(w store.Writer) error { return w.DropSession(v.ctx(), v.session.Hash) })
	if err != nil {
		return err
	}
	v.setCookie("session", "", v.now)
	return v.to("/signin", "signed_out")
}
