package browsertest

import (
	_ "embed"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

//go:embed looks.js
var looks string

// focus is where the focus stands after a step.
type focus struct {
	Nowhere, There bool
	What           string
	Wrong          []string
}

// quoted is a text as a literal of JavaScript.
func quoted(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err) // a string always has a form in JSON
	}
	return string(b)
}

// ugly is wrong in every way that looks are judged by.
const ugly = `<!DOCTYPE html><html lang="en"><meta name="viewport" content="width=device-width"><title>x</title><style>
	body { margin: 0; font: 16px/20px sans-serif; background: #fff } p { margin: 0 } .tiny { font-size: 10px } .flat { height: 20px; padding: 0; border: 1px solid }
	.broad { width: 500px } .over { margin-top: -20px; height: 20px } a { outline: none } .faint:focus { outline: 3px solid #eee }</style>
	<p class="tiny">tiny</p><button class="flat">flat</button><p class="broad">broad</p><p>under</p><p class="over">over</p>
	<a href="/plain">plain</a> <a class="faint" href="/faint">faint</a> <a href="/skipped" tabindex="1">first</a>`

// The other tests say that the looks of pages are right. This one shows that what
// is wrong would be seen.
func TestUglyPagesAreNoticed(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		_, _ = w.Write([]byte(ugly))
	}))
	t.Cleanup(s.Close)
	b := open(t)
	b.wide(phone)
	require.Equal(t, 200, b.goes(s.URL))
	wider := found[[]string](b, looks+`; wider()`)
	require.Len(t, wider, 1)
	assert.Contains(t, wider[0], "broad")
	assert.Equal(t, []string{"10 px: p tiny"}, found[[]string](b, looks+`; small(12)`))
	assert.Equal(t, []string{"20.0 px: button flat", "text on its border: button flat"}, found[[]string](b, looks+`; flat(40)`))
	assert.Equal(t, []string{"under / over"}, found[[]string](b, looks+`; overlaps()`))
	assert.True(t, found[bool](b, looks+`; remember()`))
	for _, want := range []struct{ css, wrong string }{{`[href="/plain"]`, "no outline of 2 px"}, {".faint", "outline has a contrast of only 1.2"}} {
		at := found[focus](b, looks+`; document.querySelector(`+quoted(want.css)+`).focus(); focused(`+quoted(want.css)+`)`)
		require.True(t, at.There)
		assert.Contains(t, strings.Join(at.Wrong, "; "), want.wrong)
	}
	assert.Equal(t, []string{"button flat", "a first"}, found[[]string](b, looks+`; unreached()`))
}
