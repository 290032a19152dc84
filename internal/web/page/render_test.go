package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/round"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/trial/npmtest"
	"winterstand/internal/unit"
)

// full is a farm in which every page has something to show.
func (w *world) full() (paths []string) {
	w.Helper()
	beds := w.fortyBeds()
	ana := w.person("Ana", "ana@example.org", "+12075550123")
	f, err := w.store.Field(w.ctx(), w.farmID, beds[0].FieldID)
	require.NoError(w, err)
	w.judge.verdict = w.endsAt(w.local(16, 16, 30))
	n, m := w.told(beds[0], f, notice.HarvestBefore, w.endsAt(w.local(16, 16, 30)), ana)
	room, err := w.commands.AddRoom(w.ctx(), w.farmID, commands.RoomInput{Name: commands.Set("Cellar"), Kind: commands.Set("cellar"), Temperature: commands.Set(3.9), Humidity: commands.Set(0.95), CapacityKg: commands.Set(800.0)})
	require.NoError(w, err)
	lot, err := w.commands.AddLot(w.ctx(), w.farmID, commands.LotInput{RoomID: commands.Set(room.ID), Crop: commands.Set("carrot"), Kg: commands.Set(120.0), HarvestedAt: commands.Set(w.now.AddDate(0, 0, -9))})
	require.NoError(w, err)
	require.NoError(w, w.store.Write(w.ctx(), func(tx store.Writer) error {
		alerts, err := json.Marshal(map[string]any{"asked": w.now, "alerts": []notice.Alert{{Event: "Freeze Warning", Ends: unit.Some(w.local(16, 9, 0)), Sender: "NWS Duluth MN"}}})
		if err != nil {
			return err
		}
		if err := tx.SetMemo(w.ctx(), fmt.Sprintf("cell:%d", f.CellID), round.AlertMemo, alerts, w.now); err != nil {
			return err
		}
		if err := tx.SetMemo(w.ctx(), fmt.Sprintf("field:%d", f.ID), scene.BiasMemo, json.RawMessage(`{"calm":{"mean_k":-1.2,"weight":3,"nights":4},"other":{"mean_k":0,"weight":0,"nights":0}}`), w.now); err != nil {
			return err
		}
		return tx.SetMemo(w.ctx(), scene.ToleranceOwner(w.farmID, "chard", ""), scene.ToleranceMemo, json.RawMessage(`{"offset_k":-1.5,"sigma_k":0.8,"nights":3}`), w.now)
	}))
	return append(emptyPaths(), fmt.Sprintf("/beds/%d", beds[0].ID), fmt.Sprintf("/beds/%d?cover=low_tunnel&mulch=4", beds[0].ID), fmt.Sprintf("/beds/%d", beds[8].ID),
		fmt.Sprintf("/beds/%d", beds[9].ID), fmt.Sprintf("/beds/%d", beds[20].ID), fmt.Sprintf("/beds/%d/change", beds[0].ID), "/beds/new",
		fmt.Sprintf("/fields/%d/change", f.ID), fmt.Sprintf("/notices/%d", n.ID), fmt.Sprintf("/notices?bed=%d&kind=harvest-before&from=2026-11-01&to=2026-11-30", beds[0].ID),
		fmt.Sprintf("/recipients/%d/change", ana.ID), "/readings/new", fmt.Sprintf("/findings/new?bed=%d&night=2026-11-13", beds[0].ID),
		fmt.Sprintf("/rooms/%d/change", room.ID), fmt.Sprintf("/lots/%d/change", lot.ID), "/lots/new",
		w.answerLink(m), w.unsubscribeLink(ana, notice.HarvestBefore), w.signInLink(ana))
}

func emptyPaths() []string {
	return []string{"/", "/notices", "/fields", "/fields/new", "/recipients", "/recipients/new", "/findings/new", "/rooms", "/rooms/new",
		"/lots", "/settings", "/settings/crew", "/settings/wanted", "/health",
		"/plan", "/supply", "/supply?lifted=yes", "/stores", "/season", "/skill"}
}

func TestEveryPageOfAnEmptyFarmRenders(t *testing.T) {
	w := newWorld(t)
	g := w.grower()
	for _, path := range emptyPaths() {
		t.Run(path, func(t *testing.T) { sound(t, g.get(path).is(200)) })
	}
	assert.Empty(t, errorsIn(w))
}

func TestEveryPageOfAFullFarmRendersInBothLanguages(t *testing.T) {
	for _, language := range []string{"en", "es"} {
		w := newWorld(t)
		paths := w.full()
		w.set(commands.FarmInput{Language: commands.Set(language)})
		g := w.grower()
		for _, path := range paths {
			t.Run(language+path, func(t *testing.T) {
				r := g.get(path).is(200)
				sound(t, r)
				if !strings.HasPrefix(path, "/in/") { // a stranger's page: by the browser's language
					assert.Contains(t, r.body, `<html lang="`)
				}
			})
		}
		assert.Empty(t, errorsIn(w))
	}
}

func (w *world) set(in commands.FarmInput) {
	w.Helper()
	_, err := w.commands.ChangeFarm(w.ctx(), w.farmID, unit.None[int64](), in)
	require.NoError(w, err)
}

func errorsIn(w *world) []string {
	var out []string
	for line := range strings.Lines(w.log.String()) {
		if strings.Contains(line, "level=ERROR") {
			out = append(out, line)
		}
	}
	return out
}

// unsaid finds phrases that do not exist, and braces that nobody filled.
var unsaid = regexp.MustCompile(`\[[a-z_]+\.[a-z_.0-9-]*\]|\{[a-z_]+\}`)

// sound checks what every page must have.
func sound(t *testing.T, r reply) {
	t.Helper()
	assert.Empty(t, unsaid.FindAllString(strings.ReplaceAll(plain(r.body), "covers[", ""), -1), "phrases")
	assert.NotContains(t, r.body, "<script")
	assert.NotContains(t, r.body, " style=")
	assert.NotContains(t, r.body, "ZgotmplZ", "a value the template would not trust")
	assert.NotRegexp(t, `(?:src|href|action)="(?:https?:)?//`, r.body, "something from elsewhere")
	p := parse(t, r.body)
	assert.Equal(t, 1, p.count["h1"], "one h1")
	assert.Equal(t, 1, p.count["main"], "one main")
	assert.Empty(t, p.wrong)
}

// parsed is what a page is made of.
type parsed struct {
	count  map[string]int
	ids    map[string]bool
	labels map[string]bool
	refs   []string // ids that something points to
	fields []string // ids of inputs that need a label
	level  int
	wrong  []string
}

// parse reads a page by the rules of WCAG 2.2 that can be told from its text:
// language (3.1.1), headings without gaps (1.3.1), a label for every field
// (1.3.1, 3.3.2), references that lead somewhere (4.1.2).
func parse(t *testing.T, body string) *parsed {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(body))
	require.NoError(t, err)
	p := &parsed{count: map[string]int{}, ids: map[string]bool{}, labels: map[string]bool{}}
	p.walk(doc)
	for _, id := range p.refs {
		if !p.ids[id] {
			p.bad("nothing has the id %q", id)
		}
	}
	for _, id := range p.fields {
		if !p.labels[id] {
			p.bad("the field %q has no label", id)
		}
	}
	return p
}

func (p *parsed) bad(format string, args ...any) {
	p.wrong = append(p.wrong, fmt.Sprintf(format, args...))
}

func (p *parsed) walk(n *html.Node) {
	if n.Type == html.ElementNode {
		p.element(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		p.walk(c)
	}
}

func (p *parsed) element(n *html.Node) {
	p.count[n.Data]++
	a := map[string]string{}
	for _, at := range n.Attr {
		a[at.Key] = at.Val
	}
	if id, ok := a["id"]; ok {
		if id == "" || p.ids[id] {
			p.bad("the id %q is empty or there twice", id)
		}
		p.ids[id] = true
	}
	for _, ref := range []string{"aria-labelledby", "aria-describedby"} {
		p.refs = append(p.refs, strings.Fields(a[ref])...)
	}
	switch n.Data {
	case "html":
		if a["lang"] == "" {
			p.bad("no language")
		}
	case "label":
		p.labels[a["for"]] = true
		p.refs = append(p.refs, a["for"])
	case "input", "select", "textarea":
		if a["type"] != "hidden" {
			p.fields = append(p.fields, a["id"])
		}
	case "a":
		if id, ok := strings.CutPrefix(a["href"], "#"); ok {
			p.refs = append(p.refs, id)
		}
	case "h1", "h2", "h3", "h4":
		level := int(n.Data[1] - '0')
		if level > p.level+1 {
			p.bad("%s follows h%d", n.Data, p.level)
		}
		p.level = level
	}
}

func TestTheFirstPageOfFortyBedsIsSmall(t *testing.T) {
	w := newWorld(t)
	w.full()
	r := w.grower().get("/").is(200)
	css, _ := assetFiles.ReadFile("assets/page.css")
	mark, _ := assetFiles.ReadFile("assets/mark.svg")
	size := len(r.body) + len(css) + len(mark)
	t.Logf("page %d bytes, style sheet %d, mark %d", len(r.body), len(css), len(mark))
	assert.Less(t, size, 100_000, "first view, before compression")
	assert.Equal(t, 40, strings.Count(r.body, `href="/beds/`), "every bed once")
}

// sample is a part of the pages, of each form of page one, where the outside
// checkers are not required: they take seconds.
func sample(paths []string) []string {
	if os.Getenv(npmtest.Required) == "1" {
		return paths
	}
	var out []string
	for _, i := range []int{0, 1, 9, 10, 13, 14, 19, 22} {
		out = append(out, paths[i])
	}
	return append(out, paths[len(paths)-3:]...)
}

func TestPagesPassAnHTMLChecker(t *testing.T) {
	t.Parallel()
	npmtest.Need(t)
	w := newWorld(t)
	pages := map[string]string{}
	paths := w.full()
	g := w.grower()
	for _, path := range sample(paths) {
		pages[path] = g.get(path).is(200).body
	}
	pages["bad form"] = g.post("/fields/new", g.get("/fields/new").form("/fields/new")).is(422).body
	pages["nothing"] = g.get("/nothing").is(404).body
	pages["sign in"] = w.stranger().get("/signin").is(200).body
	var wrong []struct {
		Page, Rule, Message string
		Line                int
	}
	npmtest.Run(t, "pages.mjs", pages, &wrong)
	assert.Empty(t, wrong)
}

func TestEveryAnswerCarriesItsHeaders(t *testing.T) {
	w := newWorld(t)
	g := w.grower()
	for path, status := range map[string]int{"/": 200, "/nothing": 404, "/beds/99": 404, "/a/x": 410} {
		r := g.get(path).is(status)
		assert.Equal(t, policy, r.header.Get("Content-Security-Policy"), path)
		assert.Equal(t, "nosniff", r.header.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "no-referrer", r.header.Get("Referrer-Policy"), path)
		assert.Equal(t, "no-store", r.header.Get("Cache-Control"), path)
		assert.Equal(t, "text/html; charset=utf-8", r.header.Get("Content-Type"), path)
		assert.Empty(t, r.header.Get("Strict-Transport-Security"), "only over https")
	}
}

func TestAssetsAreKeptForEverUnderTheirHash(t *testing.T) {
	w := newWorld(t)
	s := w.stranger()
	hrefs := regexp.MustCompile(`/assets/[^"]+`).FindAllString(s.get("/signin").body, -1)
	slices.Sort(hrefs)
	require.Len(t, slices.Compact(hrefs), 2)
	for _, href := range hrefs {
		r := s.get(href).is(http.StatusOK)
		assert.Equal(t, "public, max-age=31536000, immutable", r.header.Get("Cache-Control"))
		assert.Regexp(t, `^(text/css|image/svg\+xml)`, r.header.Get("Content-Type"))
	}
	s.get("/assets/page-000000000000.css").is(http.StatusNotFound)
}

func BenchmarkFirstPageOfFortyBeds(b *testing.B) { benchmark(b, "/") }

func BenchmarkNotices(b *testing.B) { benchmark(b, "/notices") }

func benchmark(b *testing.B, path string) {
	w := newWorld(b)
	w.full()
	g := w.grower()
	for b.Loop() {
		g.get(path).is(200)
	}
}
