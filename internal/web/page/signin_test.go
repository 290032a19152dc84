package page

import (
	"errors"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// ask asks for a link and waits until the letters have left.
func (w *world) ask(email string) reply {
	w.Helper()
	s := w.stranger()
	form := s.get("/signin").is(200).form("/signin/link")
	form.Set("email", email)
	r := s.post("/signin/link", form)
	w.site.Wait()
	return r
}

var linkIn = regexp.MustCompile(`http://127\.0\.0\.1(/in/\S+)`)

// follow signs a person in by a letter, as they would.
func (w *world) follow(r farm.Recipient) *browser {
	w.Helper()
	w.ask(r.Email).is(200)
	m := linkIn.FindStringSubmatch(w.mail.text)
	require.NotNil(w, m, w.mail.text)
	s := w.stranger()
	s.post(m[1], s.get(m[1]).is(200).form(m[1])).is(303)
	return s
}

func TestTheAnswerDoesNotTellWhetherAnAddressIsKnown(t *testing.T) {
	w := newWorld(t)
	w.person("Ana", "ana@example.org", "")
	known, unknown := w.ask("ana@example.org").is(200), w.ask("nobody@example.org").is(200)
	secret := regexp.MustCompile(`name="csrf" value="[^"]*"`)
	assert.Equal(t, secret.ReplaceAllString(known.body, ""), secret.ReplaceAllString(unknown.body, ""))
	known.says("If this address is known here, a link is on its way")
	assert.Equal(t, []string{"ana@example.org"}, w.mail.to)
	assert.Equal(t, "Your link to Hill Farm", w.mail.subject)
}

func TestAFailingMailServerIsNotToldToStrangers(t *testing.T) {
	w := newWorld(t)
	w.person("Ana", "ana@example.org", "")
	w.mail.err = errors.New("mailbox full")
	w.ask("ana@example.org").is(200).silent("mailbox full")
	assert.Contains(t, w.log.String(), "mailbox full")
}

func TestALinkWorksOnceByItsButtonOnly(t *testing.T) {
	w := newWorld(t)
	ana := w.person("Ana", "ANA@example.org", "")
	w.ask("ana@example.org") // upper or lower case
	path := linkIn.FindStringSubmatch(w.mail.text)[1]
	s := w.stranger()
	for range 3 { // programs that look through mail follow links
		s.get(path).is(200).says("Sign in to Hill Farm?")
		s.get("/").is(303)
	}
	form := s.get(path).form(path)
	other := w.stranger()
	other.post(path, form).is(403) // the form of another browser
	s.post(path, form).is(303)
	s.get("/").is(200).says("Signed in: Ana.")
	again := w.stranger()
	again.post(path, again.get(path).form(path)).is(410).says("This link is not valid, or its time has ended")
	again.get("/").is(303)
	_ = ana
}

func TestALinkEnds(t *testing.T) {
	w := newWorld(t)
	ana := w.person("Ana", "ana@example.org", "")
	path := w.signInLink(ana)
	w.stranger().get(path).is(200)
	w.now = w.now.Add(linkFor + time.Second)
	w.stranger().get(path).is(410)
	w.now = noon
	w.stranger().get(path[:len(path)-1] + "x").is(410)
	w.stranger().get("/in/" + strings.TrimPrefix(w.unsubscribeLink(ana, "moved"), "/u/")).is(410) // a link for something else
	require.NoError(t, w.commands.RemoveRecipient(w.ctx(), w.farmID, ana.ID, unit.None[int64]()))
	w.stranger().get(path).is(410)
}

func TestAMailboxIsNotFilledByStrangers(t *testing.T) {
	w := newWorld(t)
	w.person("Ana", "ana@example.org", "")
	for range linksAtOnce + 4 {
		w.ask("ana@example.org").is(200)
	}
	assert.Len(t, w.mail.to, linksAtOnce)
	w.now = w.now.Add(2 * linkFor)
	w.ask("ana@example.org").is(200)
	assert.Len(t, w.mail.to, linksAtOnce+1)
}

func TestOneAddressOnSeveralFarmsGetsALetterForEach(t *testing.T) {
	w := newWorld(t)
	w.person("Ana", "ana@example.org", "")
	other, err := w.commands.MakeToken(w.ctx(), "Other Farm", farm.ScopeWrite)
	require.NoError(t, err)
	_, err = w.commands.AddRecipient(w.ctx(), other.Farm.ID, commands.RecipientInput{Name: commands.Set("Ana"), Email: commands.Set("ana@example.org")})
	require.NoError(t, err)
	w.ask("ana@example.org")
	assert.Len(t, w.mail.to, 2)
}

func TestTriesAreLimited(t *testing.T) {
	w := newWorld(t)
	s := w.stranger()
	form := s.get("/signin").form("/signin/token")
	form.Set("token", "ws_wrong")
	for range triesPerMinute {
		s.post("/signin/token", form).is(401).says("This token is not known")
	}
	r := s.post("/signin/token", form).is(429).says("Please wait")
	assert.NotEmpty(t, r.header.Get("Retry-After"))
	form.Set("token", w.token)
	s.post("/signin/token", form).is(429)
}

func TestAForeignFormSignsNobodyIn(t *testing.T) {
	w := newWorld(t)
	s := w.stranger()
	s.post("/signin/token", url.Values{"token": {w.token}}).is(403)
	form := w.stranger().get("/signin").form("/signin/token") // a page that another browser loaded
	form.Set("token", w.token)
	s.post("/signin/token", form).is(403)
	form = s.get("/signin").form("/signin/token")
	form.Set("token", w.token)
	w.now = w.now.Add(formFor + time.Second)
	s.post("/signin/token", form).is(403)
}

func TestWithoutMailATokenIsTheWayIn(t *testing.T) {
	w := newWorld(t)
	w.serve(func(o *Options) { o.Mailer, o.Channels = nil, nil })
	s := w.stranger()
	r := s.get("/signin").is(200).says("No mail server is set up here", "Sign in with a token")
	assert.NotContains(t, r.body, `action="/signin/link"`)
	form := r.form("/signin/token")
	form.Set("token", w.token)
	s.post("/signin/token", form).is(303)
	s.get("/").is(200).says("Neither mail nor text messages are set up here")
}

func TestThePageSpeaksTheBrowsersLanguageToStrangers(t *testing.T) {
	w := newWorld(t)
	s := w.stranger()
	s.get("/signin", "Accept-Language", "es-MX,es;q=0.9,en;q=0.8").is(200).says("Entrar")
	s.get("/signin", "Accept-Language", "de-CH,de;q=0.9").is(200).says("Sign in")
	s.get("/signin", "Accept-Language", "de, es;q=0.5").is(200).says("Entrar")
}
