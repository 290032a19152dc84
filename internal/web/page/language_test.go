package page

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"winterstand/internal/crop"
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

// A farm whose language only a phrase file knows reads nothing else on any page.
func TestEveryPageIsSaidByThePhrasesAlone(t *testing.T) {
	book := phrasetest.Book(t)
	w := newWorld(t, func(o *Options) { o.Phrases = book })
	paths := w.full()
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
	names := slices.Clone(data)
	for i := range 40 {
		names = append(names, fmt.Sprintf("B%d", i+1))
	}
	for _, c := range w.commands.Catalogue.(interface{ All() []crop.Crop }).All() {
		names = append(names, c.Title("en"), c.Name)
	}
	g := w.grower()
	for _, path := range paths {
		for _, text := range heard(t, g.get(path).is(200).body) {
			for _, line := range strings.Split(text, "\n") {
				assert.Empty(t, phrasetest.Stray(line, names...), "%s: %s", path, line)
			}
		}
	}
}
