package page

import (
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/phrase/phrasetest"
	"winterstand/internal/store"
)

// heard are the texts of a page that people read or have read to them.
func heard(t *testing.T, body string) (out []string) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(body))
	require.NoError(t, err)
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data == "style" || n.Data == "script") {
			return
		}
		if n.Type == html.TextNode {
			out = append(out, n.Data)
		}
		for _, a := range n.Attr {
			if a.Key == "aria-label" || a.Key == "alt" || a.Key == "title" || a.Key == "placeholder" {
				out = append(out, a.Val)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	return out
}

// data are the names and the words of others on the pages of a full farm.
var data = []string{"winterstand", "Hill Farm", "North field", "South field", "Ana", "Cellar", "NWS Duluth MN", "Freeze Warning", "America/Chicago", "US National Weather Service",
	"English", "español", "Chard", "public domain"}

// foreign is a full farm whose language only a phrase file knows, with its pages
// and the names that are no words.
func foreign(t *testing.T) (w *world, paths, names []string) {
	t.Helper()
	book := phrasetest.Book(t)
	w = newWorld(t, func(o *Options) { o.Phrases = book })
	paths = w.full()
	require.NoError(t, w.store.Write(w.ctx(), func(tx store.Writer) error {
		f, err := tx.Farm(w.ctx(), w.farmID)
		if err != nil {
			return err
		}
		f.Language = phrasetest.Language
		if err := tx.UpdateFarm(w.ctx(), f); err != nil {
			return err
		}
		people, err := tx.Recipients(w.ctx(), w.farmID, store.Page{})
		for i := range people {
			people[i].Language = phrasetest.Language
			err = errors.Join(err, tx.UpdateRecipient(w.ctx(), people[i]))
		}
		return err
	}))
	names = slices.Clone(data)
	for i := range 40 {
		names = append(names, fmt.Sprintf("B%d", i+1))
	}
	for _, c := range w.commands.Catalogue.(interface{ All() []crop.Crop }).All() {
		names = append(names, c.Title("en"), c.Name)
	}
	return w, paths, names
}

// saidByPhrases: nothing on a page stands in the code.
func saidByPhrases(t *testing.T, what, body string, names []string) {
	t.Helper()
	for _, text := range heard(t, body) {
		for _, line := range strings.Split(text, "\n") {
			assert.Empty(t, phrasetest.Stray(line, names...), "%s: %s", what, line)
		}
	}
}

// A farm whose language only a phrase file knows reads nothing else on any page.
func TestEveryPageIsSaidByThePhrasesAlone(t *testing.T) {
	w, paths, names := foreign(t)
	g := w.grower()
	for _, path := range paths {
		saidByPhrases(t, path, g.get(path).is(200).body, names)
	}
}

// Nor on the pages that say what is wrong, or that something is refused.
func TestEveryErrorIsSaidByThePhrasesAlone(t *testing.T) {
	w, _, names := foreign(t)
	g := w.grower()
	csrf := g.get("/").form("/signout").Get("csrf")
	ours := func(more ...string) url.Values {
		form := url.Values{"csrf": {csrf}}
		for i := 0; i < len(more); i += 2 {
			form.Set(more[i], more[i+1])
		}
		return form
	}
	beds, err := w.store.Beds(w.ctx(), w.farmID, store.BedFilter{})
	require.NoError(t, err)
	field := fmt.Sprintf("/fields/%d", beds[0].FieldID)
	for what, r := range map[string]reply{
		"no page":          g.get("/nowhere").is(404),
		"no entry":         g.get("/beds/9999").is(404),
		"a foreign form":   g.post(field+"/remove", url.Values{}).is(403),
		"a refusal":        g.post(field+"/remove", ours()).is(409),
		"wrong values":     g.post(field+"/change", ours("name", "", "latitude", "north", "longitude", "900", "elevation_m", "x")).is(422),
		"no history":       g.sendHistory(csrf, "", nil).is(422),
		"a wrong header":   g.sendHistory(csrf, "h.csv", []byte("pears\n1\n")).is(422),
		"a wrong value":    g.sendHistory(csrf, "h.csv", []byte("date,tmin_c,tmax_c\n2024-01-01,cold,4\n")).is(422),
		"a packed history": g.sendHistory(csrf, "h.csv.gz", []byte("\x1f\x8b")).is(422),
		"a short history":  g.sendHistory(csrf, "h.csv", []byte("date,tmin_c,tmax_c\n2024-01-01,-3,4\n")).is(422),
	} {
		saidByPhrases(t, what, r.body, append(slices.Clone(names), "h.csv.gz", "h.csv", "pears", "cold", "date,tmin_c,tmax_c", "time,air_c", "tmin_c", "north", "x"))
	}
	for _, e := range refusals {
		v := &visit{speaker: phrase.Speaker{Book: phrasetest.Book(t), Language: phrasetest.Language}}
		for _, key := range []string{"error." + e.phrase, "error." + e.phrase + "_head"} {
			assert.Empty(t, phrasetest.Stray(v.say(key)), key)
		}
	}
}
