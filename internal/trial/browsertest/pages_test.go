package browsertest

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/trial/patience"
	"winterstand/internal/trial/rehearsal"
	"winterstand/internal/unit"
)

// Bounds of a page that a grower can use on a phone and at a desk.
const (
	phone, screen = 360, 1280 // px of width
	leastText     = 12.0      // px
	leastButton   = 40.0      // px of height at the phone's width
)

// Every page that can be reached from the first one, and those that letters lead
// to, on a farm in the middle of its first hard nights: nothing is cut off or
// too small, axe-core finds nothing serious, the page's own policy holds and
// nobody else is asked for anything.
func TestEveryPage(t *testing.T) {
	notInShort(t)
	axe := axeCore(t)
	s := raise(t, snapBegins)
	play(t, s, snapIsNear)
	serve(t, s)
	b, stranger := open(t), open(t)
	signIn(b, s, s.Token)
	look := &lookout{TB: t, axe: axe, folder: os.Getenv("WINTERSTAND_SCREENSHOTS"), seen: map[string]int{}}
	look.near(b, stranger, s)
	look.byKeyboard(b, s)
	play(t, s, snapIsHere)
	settle(t, s)
	look.history(b, s)
	look.crawl(b, s)
	look.wrongForms(b, s)
	look.inSpanish(b, s)
	look.fromLetters(stranger, s)
	for _, b := range []*tab{b, stranger} {
		assert.Empty(t, b.complaints())
		assert.Empty(t, b.strangers(s.Service.Address()), "asked for from elsewhere")
	}
	t.Logf("%d pages looked at in %s", look.pages, look.took.Round(time.Second))
	for _, path := range []string{"/plan", "/supply", "/stores", "/season", "/skill", "/health", "/notices", "/notices/N", "/beds/N", "/fields",
		"/recipients", "/settings", "/settings/crew", "/settings/wanted", "/rooms", "/lots", "/beds/new", "/readings/new", "/findings/new"} {
		assert.Positive(t, look.seen[path], "%s was not reached by links", path)
	}
}

// The days of the story that the farm is played through: from before the snap is
// in the forecast until it is on the beds.
var (
	snapBegins = time.Date(2025, 11, 8, 14, 0, 0, 0, time.UTC)
	snapIsNear = time.Date(2025, 11, 10, 14, 0, 0, 0, time.UTC) // deadlines stand
	snapIsHere = time.Date(2025, 11, 12, 14, 0, 0, 0, time.UTC) // some are past
)

// play goes on with the story until a moment, without anybody answering.
func play(t testing.TB, s *rehearsal.Stage, until time.Time) {
	t.Helper()
	for {
		_, err := s.Service.Runner.Round(t.Context())
		require.NoError(t, err)
		require.NoError(t, s.Service.Drain(t.Context()))
		if !s.Clock.Now().Before(until) {
			return
		}
		s.Clock.Set(s.Clock.Now().Add(8 * time.Hour))
	}
}

// settle leaves the farm with something on every page: nights that are scored,
// ground that cannot be seen, an answer.
func settle(t *testing.T, s *rehearsal.Stage) {
	t.Helper()
	ctx := t.Context()
	require.NoError(t, s.Service.Scorer.Score(ctx))
	require.NoError(t, s.Service.Letters.Stored(ctx))
	d := s.Service.Commands
	far, err := d.AddField(ctx, s.FarmID, commands.FieldInput{Name: commands.Set("Rented ground"), Latitude: commands.Set(-40.0), Longitude: commands.Set(170.0)})
	require.NoError(t, err)
	_, err = d.AddBed(ctx, s.FarmID, commands.BedInput{FieldID: commands.Set(far.ID), Name: commands.Set("R1"), Crop: commands.Set("kale-curly"), StandingKg: commands.Set(30.0)})
	require.NoError(t, err)
	told, err := s.Service.Book.Notices(ctx, s.FarmID, store.NoticeFilter{Kind: notice.HarvestBefore})
	require.NoError(t, err)
	require.NotEmpty(t, told)
	_, err = d.Answer(ctx, s.FarmID, told[0].ID, 0, commands.AnswerInput{Answer: commands.Set(farm.Harvested), HarvestedKg: commands.Set(10.0)})
	require.NoError(t, err)
	require.NoError(t, s.Service.Drain(ctx))
}

func signIn(b *tab, s *rehearsal.Stage, token string) {
	b.Helper()
	b.goes(address(s, "/signin"))
	pointer{}.fill(b, "#token", token)
	pointer{}.press(b, `form[action="/signin/token"] button`)
	require.Equal(b, "/", b.path())
}

// lookout looks at pages and says what is wrong with them.
type lookout struct {
	testing.TB
	axe    string
	folder string         // for pictures; empty: none are taken
	seen   map[string]int // by pattern
	paths  []string       // one of each pattern
	pages  int
	took   time.Duration
}

var number = regexp.MustCompile(`/\d+`)

// pattern is an address without its numbers: pages of one pattern are alike.
func pattern(path string) string {
	path, query, _ := strings.Cut(path, "?")
	path = number.ReplaceAllString(path, "/N")
	if query != "" {
		var names []string
		for _, kv := range strings.Split(query, "&") {
			name, _, _ := strings.Cut(kv, "=")
			names = append(names, name)
		}
		path += "?" + strings.Join(names, "&")
	}
	return path
}

// mostAlike pages of one pattern are looked at.
const mostAlike = 1

// several of a bed's page are looked at: each of the verdicts has its own looks.
func most(pattern string) int {
	if pattern == "/beds/N" || pattern == "/notices/N" {
		return 5
	}
	return mostAlike
}

// near looks at what a grower sees who still has time.
func (l *lookout) near(b, stranger *tab, s *rehearsal.Stage) {
	l.Helper()
	for path, name := range map[string]string{"/": "/ near", "/plan": "/plan near", "/supply?lifted=yes": "/supply near"} {
		require.Equal(l, http.StatusOK, b.goes(address(s, path)))
		l.look(b, name)
	}
	b.goes(address(s, "/"))
	pointer{}.press(b, `section[aria-labelledby="due"] a[href^="/beds/"]`)
	l.look(b, "/beds/N near")
	pointer{}.press(b, `a[href^="/notices/"]`)
	l.look(b, "/notices/N near")
	require.Equal(l, http.StatusOK, stranger.goes(l.links(s, "/a")["/a"]))
	l.look(stranger, "/a near")
	pointer{}.press(stranger, `button[value="leave_it"]`)
	l.look(stranger, "/a answered")
}

// byKeyboard goes through the pages with most on them, in the dark, where the
// outline has other colours.
func (l *lookout) byKeyboard(b *tab, s *rehearsal.Stage) {
	l.Helper()
	b.scheme("dark")
	b.goes(address(s, "/"))
	bed := found[[]string](b, looks+`; leads().filter(p => p.startsWith('/beds/'))`)[0]
	for _, path := range []string{"/", bed, "/supply", "/recipients/new"} {
		b.goes(address(s, path))
		assert.Empty(l, (&keys{}).around(b), "%s: out of reach for the keyboard", path)
	}
	b.scheme("light")
}

// inSpanish: longer words must fit too.
func (l *lookout) inSpanish(b *tab, s *rehearsal.Stage) {
	l.Helper()
	_, err := s.Service.Commands.ChangeFarm(l.Context(), s.FarmID, unit.None[int64](), commands.FarmInput{Language: commands.Set("es")})
	require.NoError(l, err)
	for _, path := range l.paths {
		require.Equal(l, http.StatusOK, b.goes(address(s, path)), path)
		assert.Equal(l, "es", found[string](b, `document.documentElement.lang`))
		for _, width := range []int64{phone, screen} {
			l.fits(b, path+" in Spanish", width)
		}
		l.picture(b, pattern(path)+"-es.png")
	}
}

// crawl follows every link from the first page, and asks what would be if.
func (l *lookout) crawl(b *tab, s *rehearsal.Stage) {
	l.Helper()
	queue, known, bed := []string{"/"}, map[string]bool{"/": true}, ""
	for len(queue) > 0 {
		path := queue[0]
		queue = queue[1:]
		p := pattern(path)
		if l.seen[p] >= most(p) || strings.Contains(path, ".csv") || strings.Contains(path, ".ics") {
			continue
		}
		require.Equal(l, http.StatusOK, b.goes(address(s, path)), path)
		if p == "/beds/N" {
			bed = path
		}
		if l.seen[p] == 0 {
			l.paths = append(l.paths, path)
		}
		l.look(b, p)
		for _, next := range found[[]string](b, looks+`; leads()`) {
			if !known[next] {
				known[next] = true
				queue = append(queue, next)
			}
		}
	}
	b.goes(address(s, bed))
	pointer{}.choose(b, "#w-cover", "heavy")
	pointer{}.press(b, "#what-if button")
	l.look(b, "/beds/N?what-if")
}

// history sends a file of past days, so that past winters have something to show.
func (l *lookout) history(b *tab, s *rehearsal.Stage) {
	l.Helper()
	file := filepath.Join(l.TempDir(), "days.csv")
	var text strings.Builder
	text.WriteString("date,tmin_c,tmax_c\n")
	w := rehearsal.Story()
	for day := time.Date(2021, 8, 1, 0, 0, 0, 0, time.UTC); day.Year() < 2025; day = day.AddDate(0, 0, 1) {
		low, high := 99.0, -99.0
		for _, h := range w.Past(day, day.AddDate(0, 0, 1)) {
			c := float64(h.Air.Else(unit.Celsius(0)))
			low, high = min(low, c), max(high, c)
		}
		fmt.Fprintf(&text, "%s,%.1f,%.1f\n", day.Format(time.DateOnly), low, high)
	}
	require.NoError(l, os.WriteFile(file, []byte(text.String()), 0o600))
	b.goes(address(s, "/season"))
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-file"), []string{file}))
	pointer{}.press(b, `form[action="/season"] button`)
	require.NotEmpty(l, b.text("main table tbody tr"))
}

// wrongForms are pages that say what was wrong.
func (l *lookout) wrongForms(b *tab, s *rehearsal.Stage) {
	l.Helper()
	for _, path := range []string{"/fields/new", "/beds/new", "/recipients/new", "/lots/new"} {
		b.goes(address(s, path))
		pointer{}.press(b, `main form.sheet button[type="submit"]`)
		require.NotEmpty(l, b.text("#wrongs"))
		l.look(b, path+"?wrong")
	}
	require.Equal(l, http.StatusNotFound, b.goes(address(s, "/nothing-here")))
	l.look(b, "/nothing-here")
}

// fromLetters are the pages that mails lead strangers to.
func (l *lookout) fromLetters(b *tab, s *rehearsal.Stage) {
	l.Helper()
	b.goes(address(s, "/signin"))
	l.look(b, "/signin")
	pointer{}.fill(b, "#token", "ws_wrong")
	pointer{}.press(b, `form[action="/signin/token"] button`)
	l.look(b, "/signin?wrong")
	pointer{}.fill(b, "#email", "odile@quarrylane.example")
	pointer{}.press(b, `form[action="/signin/link"] button`)
	l.look(b, "/signin?sent")
	for name, link := range l.links(s, "/a", "/in", "/u") {
		require.Equal(l, http.StatusOK, b.goes(link), name)
		l.look(b, name)
	}
	require.Equal(l, http.StatusGone, b.goes(address(s, "/a/x")))
	l.look(b, "/a/broken")
}

var letterLinks = map[string]*regexp.Regexp{
	"/a":  answerLink,
	"/in": regexp.MustCompile(`http://\S+/in/\S+`),
	"/u":  regexp.MustCompile(`http://[^\s>]+/u/[^\s>]+`),
}

// links of the letters so far, the newest of each: to answer, to sign in, to
// unsubscribe.
func (l *lookout) links(s *rehearsal.Stage, names ...string) map[string]string {
	l.Helper()
	out := map[string]string{}
	patience.Until(l, func() bool {
		for _, m := range s.Catcher.Mails() {
			for _, name := range names {
				if link := letterLinks[name].FindString(m.Text + "\n" + m.Header.Get("List-Unsubscribe")); link != "" {
					out[name] = link
				}
			}
		}
		return len(out) == len(names)
	}, "letters with %v", names)
	return out
}

// look at a page as it stands, on a phone and on a screen, light and dark.
func (l *lookout) look(b *tab, name string) {
	l.Helper()
	began := time.Now()
	defer func() { l.took += time.Since(began) }()
	l.seen[name]++
	l.pages++
	if n := l.seen[name]; n > 1 {
		name = fmt.Sprintf("%s %d", name, n)
	}
	for _, width := range []int64{phone, screen} {
		l.fits(b, name, width)
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			if (width == phone) == (scheme == "light") { // each width and each scheme once: colours do not hang on width
				l.serious(b, fmt.Sprintf("%s at %d px, %s", name, width, scheme))
			}
			l.picture(b, fmt.Sprintf("%s-%d-%s.png", name, width, scheme))
		}
	}
	b.scheme("light")
}

// fits: nothing is cut off, too small or on top of something else.
func (l *lookout) fits(b *tab, name string, width int64) {
	l.Helper()
	b.wide(width)
	assert.Empty(l, found[[]string](b, looks+`; wider()`), "%s at %d px reaches beyond the edge", name, width)
	assert.Empty(l, found[[]string](b, fmt.Sprintf(looks+`; small(%v)`, leastText)), "%s at %d px has small text", name, width)
	assert.Empty(l, found[[]string](b, looks+`; overlaps()`), "%s at %d px: one thing on another", name, width)
	if width == phone {
		assert.Empty(l, found[[]string](b, fmt.Sprintf(looks+`; flat(%v)`, leastButton)), "%s: hard to hit", name)
	}
}

var unfit = regexp.MustCompile(`[^a-zA-Z0-9.]+`)

func (l *lookout) picture(b *tab, name string) {
	l.Helper()
	if l.folder == "" {
		return
	}
	if strings.HasPrefix(name, "/ ") || strings.HasPrefix(name, "/-") {
		name = "first" + name
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(l, err)
	require.NoError(l, os.MkdirAll(l.folder, 0o755))
	require.NoError(l, os.WriteFile(filepath.Join(l.folder, strings.Trim(unfit.ReplaceAllString(name, "-"), "-")), png, 0o600))
}
