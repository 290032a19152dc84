package page

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"strings"
)

//go:embed templates/*.html
var templateFiles embed.FS

// Shared templates: the frame of every page and what several pages use.
var shared = []string{"templates/layout.html", "templates/form.html", "templates/parts.html"}

// readTemplates makes one set a page: the shared ones and its own "main".
func readTemplates() (map[string]*template.Template, error) {
	base, err := template.New("page").Funcs(template.FuncMap{"list": func(v ...any) []any { return v }}).ParseFS(templateFiles, shared...)
	if err != nil {
		return nil, err
	}
	names, err := templateFiles.ReadDir("templates")
	if err != nil {
		return nil, err
	}
	sets := map[string]*template.Template{}
	for _, n := range names {
		file := "templates/" + n.Name()
		if strings.Contains(strings.Join(shared, " "), file) {
			continue
		}
		set, err := template.Must(base.Clone()).ParseFS(templateFiles, file)
		if err != nil {
			return nil, err
		}
		sets[strings.TrimSuffix(n.Name(), path.Ext(file))] = set
	}
	return sets, nil
}

// view is what a template gets: the visit in a form that templates can ask, and
// the page's own data.
type view struct {
	v     *visit
	Title string
	D     any
}

// Say fills a phrase: {{.Say "page.change" "what" .Name}}.
func (l view) Say(key string, pairs ...string) string { return l.v.say(key, pairs...) }

// Asset is the address of a style sheet or mark, with its content's hash.
func (l view) Asset(name string) string { return l.v.assets.path(name) }

// Language of the page.
func (l view) Language() string { return l.v.speaker.Language }

// Farm is its name; empty for strangers.
func (l view) Farm() string { return l.v.farm.Name }

// SignedIn tells whether somebody is.
func (l view) SignedIn() bool { return l.v.signedIn() }

// MayChange tells whether the visitor may do more than look.
func (l view) MayChange() bool { return l.v.mayChange() }

// CSRF is the session's secret for forms.
func (l view) CSRF() string { return l.v.session.CSRF }

// Front is the short navigation on top.
func (l view) Front() []Link { return l.v.links(false) }

// All is the whole navigation at the foot.
func (l view) All() []Link { return l.v.links(true) }

// Who is signed in.
func (l view) Who() string {
	if l.v.who.ID != 0 {
		return l.v.say("page.who", "name", l.v.who.Name)
	}
	if l.v.mayChange() {
		return l.v.say("page.by_token")
	}
	return l.v.say("page.by_reading_token")
}

// Done is what the last POST did, said on the page that it led to.
func (l view) Done() string {
	key := "done." + l.v.r.URL.Query().Get("done")
	if !l.v.Phrases.Has(key) {
		return ""
	}
	return l.v.say(key)
}

// show writes a page.
func (v *visit) show(name, title string, d any) error {
	v.write(http.StatusOK, name, title, d)
	return nil
}

// write fills the template first and sends it whole, so that no half page with
// a good status leaves.
func (v *visit) write(status int, name, title string, d any) {
	var b bytes.Buffer
	set, ok := v.templates[name]
	err := error(nil)
	if !ok {
		err = fmt.Errorf("no template %q", name)
	} else {
		err = set.ExecuteTemplate(&b, "layout", view{v, title, d})
	}
	if err != nil {
		v.Log.ErrorContext(v.ctx(), "page cannot be written", "page", name, "error", err)
		http.Error(v.w, v.say("error.broken"), http.StatusInternalServerError)
		return
	}
	v.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	v.w.WriteHeader(status)
	_, _ = v.w.Write(b.Bytes()) // the reader has gone: nobody is left to tell
}

// to leads on after a POST, with a word on what was done.
func (v *visit) to(path, done string) error {
	if done != "" {
		path += "?done=" + done
	}
	http.Redirect(v.w, v.r, path, http.StatusSeeOther)
	return nil
}
