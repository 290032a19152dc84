package browsertest

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/trial/catcher"
	"winterstand/internal/trial/patience"
	"winterstand/internal/trial/rehearsal"
)

// A newcomer, with nothing but a token, registers ground, a bed and themselves,
// is told, answers from the mail and finds the answer in the books: with a
// mouse, with a keyboard alone, and in a browser that runs no script.
func TestANewcomersWay(t *testing.T) {
	s := raise(t, rehearsal.Eve)
	serve(t, s)
	for _, way := range []struct {
		name   string
		hand   hand
		script bool
	}{
		{"pointer", pointer{}, true},
		{"keyboard", &keys{}, true},
		{"no script", pointer{}, false},
	} {
		t.Run(way.name, func(t *testing.T) {
			j := &journey{T: t, stage: s, hand: way.hand, script: way.script, name: strings.ReplaceAll(way.name, " ", "-")}
			j.tab = j.window()
			j.signIn()
			j.register()
			link := j.letter()
			j.answers(link)
			j.looksUp()
			j.wellBehaved()
			if k, ok := way.hand.(*keys); ok {
				t.Logf("%d steps with the tabulator", k.steps)
			}
		})
	}
}

// journey is one newcomer with one way of working the pages.
type journey struct {
	*testing.T
	stage  *rehearsal.Stage
	hand   hand
	script bool
	name   string
	tab    *tab // where the newcomer is signed in
	phone  *tab // where the mail is opened
}

func (j *journey) window() *tab {
	j.Helper()
	b := open(j)
	if !j.script {
		b.withoutScript()
		b.goes(scripted(j))
		require.Equal(j, "without", b.text("title"), "a script ran")
		b.forget()
	}
	return b
}

// scripted is a page that would change its title if scripts ran.
func scripted(t testing.TB) string {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		_, _ = w.Write([]byte(`<!DOCTYPE html><title>without</title><script>document.title = 'with'</script>`))
	}))
	t.Cleanup(s.Close)
	return s.URL
}

func (j *journey) fill(name, text string) {
	j.Helper()
	j.hand.fill(j.tab, `main [name="`+name+`"]`, text)
}

func (j *journey) choose(name, label string) {
	j.Helper()
	j.hand.choose(j.tab, `main [name="`+name+`"]`, label)
}

func (j *journey) send() {
	j.Helper()
	j.hand.press(j.tab, `main form.sheet button[type="submit"]`)
}

func (j *journey) signIn() {
	j.Helper()
	_, token := ownFarm(j, j.stage, "Farm of "+j.name)
	require.Equal(j, http.StatusOK, j.tab.goes(address(j.stage, "/")))
	require.Equal(j, "/signin", j.tab.path(), "strangers are led to the sign-in page")
	j.hand.fill(j.tab, "#token", token)
	j.hand.press(j.tab, `form[action="/signin/token"] button`)
	require.Equal(j, "/", j.tab.path())
}

// register enters a person, a field and a bed of chard, in kilograms.
func (j *journey) register() {
	j.Helper()
	j.tab.goes(address(j.stage, "/recipients/new"))
	j.fill("name", "Newcomer")
	j.fill("email", j.mailbox())
	j.send()
	j.tab.goes(address(j.stage, "/"))
	j.hand.press(j.tab, `main a[href="/fields/new"]`)
	j.fill("name", "First field")
	j.fill("latitude", "46.71")
	j.fill("longitude", "-68.32")
	j.send()
	j.tab.goes(address(j.stage, "/settings"))
	j.choose("units", "kg")
	j.send()
	j.tab.goes(address(j.stage, "/"))
	j.hand.press(j.tab, `main a[href^="/beds/new"]`)
	j.fill("name", j.bed())
	j.choose("crop", "chard")
	j.fill("sown_on", "07082025")
	j.fill("standing_kg", "90")
	j.send()
	assert.Contains(j, j.tab.text("h1"), j.bed())
	assert.Contains(j, j.tab.text(".facts"), "90 kg")
}

func (j *journey) bed() string { return "Bed " + j.name }

func (j *journey) mailbox() string { return j.name + "@newcomer.example" }

var answerLink = regexp.MustCompile(`http://\S+/a/\S+`)

// letter waits for the notice in the newcomer's mailbox and gives its link.
func (j *journey) letter() string {
	j.Helper()
	var mail catcher.Mail
	began := time.Now()
	patience.Until(j, func() bool {
		for _, m := range j.stage.Catcher.Mails() {
			if len(m.To) == 1 && m.To[0] == j.mailbox() && strings.Contains(m.Subject, j.bed()) {
				mail = m
				return true
			}
		}
		return false
	}, "a notice about %s", j.bed())
	j.Logf("%q arrived after %s", mail.Subject, time.Since(began).Round(100*time.Millisecond))
	link := answerLink.FindString(mail.Text)
	require.NotEmpty(j, link, mail.Text)
	return link
}

// answers opens the link where nobody is signed in and says that half is out.
func (j *journey) answers(link string) {
	j.Helper()
	j.phone = j.window()
	j.phone.wide(360)
	require.Equal(j, http.StatusOK, j.phone.goes(link))
	require.Contains(j, j.phone.text("main"), j.bed())
	j.hand.fill(j.phone, `input[name="amount"]`, "45")
	j.hand.press(j.phone, `form:has(input[name="amount"]) button`)
	assert.Contains(j, j.phone.text(".said"), j.bed())
}

// looksUp finds the answer in the history and what is left on the bed's page.
func (j *journey) looksUp() {
	j.Helper()
	j.tab.goes(address(j.stage, "/notices"))
	assert.Contains(j, j.tab.text(".log li:has(.small)"), j.bed())
	j.hand.press(j.tab, `.log li:has(.small) a`)
	assert.Contains(j, j.tab.text(`section[aria-labelledby="answers"]`), "45 kg")
	j.tab.goes(address(j.stage, "/fields"))
	j.hand.press(j.tab, `main .list a[href^="/beds/"]`)
	assert.Contains(j, j.tab.text("h1"), j.bed())
	assert.Contains(j, j.tab.text(`section[aria-labelledby="facts"]`), "45 kg")
}

// wellBehaved: the browser had nothing to complain of and asked nobody else.
func (j *journey) wellBehaved() {
	j.Helper()
	for _, b := range []*tab{j.tab, j.phone} {
		assert.Empty(j, b.complaints())
		assert.Empty(j, b.strangers(j.stage.Service.Address()), "asked for from elsewhere")
	}
}
