package page

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/httprate"

	"winterstand/internal/farm"
	"winterstand/internal/message/link"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
)

var signInScreen = Screen{Routes: func(s *Site, r chi.Router) {
	tries := r.With(httprate.LimitBy(triesPerMinute, time.Minute, byAddress, httprate.WithLimitHandler(s.open(func(*visit) error { return errTooMany }))))
	r.Get("/signin", s.open(showSignIn))
	tries.Post("/signin/link", s.open(askForLink))
	tries.Post("/signin/token", s.open(signInByToken))
	r.Get("/in/{token}", s.open(showLink))
	tries.Post("/in/{token}", s.open(signInByLink))
	r.Post("/signout", s.signed(func(v *visit) error {
		if err := v.ownForm(); err != nil {
			return err
		}
		return v.signOut()
	}))
}}

// Bounds of signing in. Own defaults.
const (
	triesPerMinute = 30 // of one address
	linkFor        = 30 * time.Minute
	linksAtOnce    = 3 // to one mailbox within linkFor
	farmsAtOnce    = 5 // farms that one mailbox is written about
	mailWithin     = 30 * time.Second
	formFor        = 4 * time.Hour
)

// Purposes of signed texts.
const (
	linkPurpose = "sign-in"
	formPurpose = "form"
)

func byAddress(r *http.Request) (string, error) {
	if i := strings.LastIndexByte(r.RemoteAddr, ':'); i > 0 {
		return r.RemoteAddr[:i], nil
	}
	return r.RemoteAddr, nil
}

// signInPage is how to get in.
type signInPage struct {
	CSRF, Next string
	Mail       bool
	Wrong      string
	Sent       bool
	Link       string // signing in by a link: where to post
	Farm       string
}

// strangerForm is the secret of a form for somebody who is not signed in: bound
// to a cookie of their browser, so that another site cannot sign them in.
func (v *visit) strangerForm() string {
	nonce := v.cookie("form")
	if len(nonce) < 16 || strings.Contains(nonce, ".") {
		nonce = random()
		v.setCookie("form", nonce, v.now.Add(formFor))
	}
	return v.Signer.Token(formPurpose, v.now.Add(formFor), nonce)
}

func (v *visit) ownStranger() error {
	if err := v.readForm(); err != nil {
		return err
	}
	parts, err := v.Signer.Read(formPurpose, v.r.PostForm.Get("csrf"), v.now)
	if err != nil || !same(parts[0], v.cookie("form")) {
		return errForeignForm
	}
	return nil
}

func (v *visit) signInSheet() signInPage {
	return signInPage{CSRF: v.strangerForm(), Next: local(v.r.FormValue("next")), Mail: v.Mailer != nil}
}

// local is a path of ours, or nothing: a link must not lead elsewhere after
// signing in.
func local(path string) string {
	if !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\r\n") {
		return ""
	}
	return path
}

func showSignIn(v *visit) error {
	if v.signedIn() {
		return v.to("/", "")
	}
	return v.show("signin", v.say("page.signin"), v.signInSheet())
}

// askForLink answers the same whether the address is known or not, and as fast.
func askForLink(v *visit) error {
	if err := v.ownStranger(); err != nil {
		return err
	}
	if v.Mailer != nil {
		ctx, email := context.WithoutCancel(v.ctx()), v.field("email")
		v.letters.Go(func() {
			ctx, cancel := context.WithTimeout(ctx, mailWithin)
			defer cancel()
			if err := v.sendLinks(ctx, email); err != nil {
				v.Log.WarnContext(ctx, "sign-in letter not sent", "error", err)
			}
		})
	}
	d := v.signInSheet()
	d.Sent = true
	return v.show("signin", v.say("page.signin"), d)
}

func (v *visit) sendLinks(ctx context.Context, email string) error {
	if len(email) > 254 || !strings.Contains(email, "@") {
		return nil
	}
	recipients, err := v.Commands.Store.RecipientsByEmail(ctx, email)
	if err != nil {
		return err
	}
	var errs []error
	for i, r := range recipients {
		if i < farmsAtOnce {
			errs = append(errs, v.sendLink(ctx, r))
		}
	}
	return errors.Join(errs...)
}

func (v *visit) sendLink(ctx context.Context, r farm.Recipient) error {
	free, err := v.mailboxFree(ctx, r)
	if err != nil || !free {
		return err
	}
	owner, err := v.Commands.Store.Farm(ctx, r.FarmID)
	if err != nil {
		return err
	}
	zone, err := store.ZoneOf(ctx, v.Commands.Store, owner)
	if err != nil {
		return err
	}
	s := deliver.SpeakerFor(v.Phrases, r, owner, zone)
	token := v.Signer.Token(linkPurpose, v.now.Add(linkFor), strconv.FormatInt(r.FarmID, 36), strconv.FormatInt(r.ID, 36), random())
	args := map[string]string{"farm": owner.Name, "name": r.Name, "until": s.When(v.now.Add(linkFor)),
		"url": strings.TrimSuffix(v.PublicURL, "/") + "/in/" + token}
	return v.Mailer.Mail(ctx, r, s.Say("signin.subject", args), s.Say("signin.letter", args))
}

// mailboxFree keeps a stranger from filling somebody's mailbox.
func (v *visit) mailboxFree(ctx context.Context, r farm.Recipient) (free bool, err error) {
	slot := strconv.FormatInt(v.now.Unix()/int64(linkFor.Seconds()), 36)
	err = v.Commands.Store.Write(ctx, func(w store.Writer) error {
		for n := 0; n < linksAtOnce && !free; n++ {
			key := "letter:" + strconv.FormatInt(r.ID, 36) + ":" + slot + ":" + strconv.Itoa(n)
			if free, err = w.UseOnce(ctx, key, v.now.Add(2*linkFor)); err != nil {
				return err
			}
		}
		return nil
	})
	return free, err
}

func signInByToken(v *visit) error {
	if err := v.ownStranger(); err != nil {
		return err
	}
	token, err := v.Commands.Authenticate(v.ctx(), v.field("token"))
	if errors.Is(err, store.ErrNotFound) {
		d := v.signInSheet()
		d.Wrong = v.say("signin.wrong_token")
		v.write(http.StatusUnauthorized, "signin", v.say("page.signin"), d)
		return nil
	}
	if err != nil {
		return err
	}
	if err := v.signIn(token.FarmID, 0, token.Scope, token.Hash); err != nil {
		return err
	}
	return v.onward()
}

func (v *visit) onward() error {
	next := local(v.r.PostForm.Get("next"))
	if next == "" {
		next = "/"
	}
	return v.to(next, "")
}

// linked reads a link of a letter.
func (v *visit) linked() (farm.Recipient, string, error) {
	token := chi.URLParam(v.r, "token")
	parts, err := v.Signer.Read(linkPurpose, token, v.now)
	if err != nil || len(parts) != 3 {
		return farm.Recipient{}, "", link.ErrNotSigned
	}
	farmID, _ := strconv.ParseInt(parts[0], 36, 64) // signed by us
	id, _ := strconv.ParseInt(parts[1], 36, 64)
	r, err := v.books().Recipient(v.ctx(), farmID, id)
	if errors.Is(err, store.ErrNotFound) || err == nil && r.RemovedAt.Known() {
		return r, "", link.ErrNotSigned
	}
	return r, token, err
}

// showLink does nothing yet: programs that look through mail follow links too.
func showLink(v *visit) error {
	r, token, err := v.linked()
	if err != nil {
		return err
	}
	owner, err := v.books().Farm(v.ctx(), r.FarmID)
	if err != nil {
		return err
	}
	d := v.signInSheet()
	d.Link, d.Farm = "/in/"+token, owner.Name
	return v.show("signin", v.say("page.signin"), d)
}

func signInByLink(v *visit) error {
	if err := v.ownStranger(); err != nil {
		return err
	}
	r, token, err := v.linked()
	if err != nil {
		return err
	}
	var fresh bool
	err = v.Commands.Store.Write(v.ctx(), func(w store.Writer) (err error) {
		fresh, err = w.UseOnce(v.ctx(), "signed-in:"+commands.HashToken(token), v.now.Add(2*linkFor))
		return err
	})
	if err != nil {
		return err
	}
	if !fresh {
		return link.ErrNotSigned
	}
	if err := v.signIn(r.FarmID, r.ID, farm.ScopeWrite, ""); err != nil {
		return err
	}
	return v.to("/", "")
}
