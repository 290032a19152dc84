package catcher

import (
	"embed"
	"html/template"
	"net"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

//go:embed page.html
var files embed.FS

var pages = template.Must(template.New("").Funcs(template.FuncMap{
	"when": func(t time.Time) string { return t.Format("Mon 2 Jan 2006 15:04:05 MST") },
	"join": func(s []string) string { return strings.Join(s, ", ") },
	"link": linked,
}).ParseFS(files, "page.html"))

// Handler serves the gateway and the pages, to this machine only.
func (c *Catcher) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("POST /send", c.gateway)
	mux.HandleFunc("GET /{$}", c.list)
	mux.HandleFunc("GET /mails.json", func(w http.ResponseWriter, _ *http.Request) { writeJSON(w, http.StatusOK, c.Mails()) })
	mux.HandleFunc("GET /texts.json", func(w http.ResponseWriter, _ *http.Request) { writeJSON(w, http.StatusOK, c.Texts()) })
	mux.HandleFunc("GET /mails/{n}", c.withMail(showMail))
	mux.HandleFunc("GET /mails/{n}/html", c.withMail(showHTML))
	mux.HandleFunc("GET /mails/{n}/source", c.withMail(showSource))
	mux.HandleFunc("GET /mails/{n}/parts/{i}", c.withMail(showPart))
	return local(http.NewCrossOriginProtection().Handler(mux))
}

// local refuses requests that name another host: a page elsewhere could point
// its own name at this machine and read the mail.
func local(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host, _, err := net.SplitHostPort(r.Host)
		if err != nil {
			host = r.Host
		}
		if !loopback(strings.Trim(host, "[]")) {
			http.Error(w, "only for this machine", http.StatusMisdirectedRequest)
			return
		}
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Referrer-Policy", "no-referrer")
		h.ServeHTTP(w, r)
	})
}

func (c *Catcher) list(w http.ResponseWriter, _ *http.Request) {
	mails, texts := c.Mails(), c.Texts()
	slices.Reverse(mails)
	slices.Reverse(texts)
	render(w, "list", map[string]any{"Mails": mails, "Texts": texts})
}

func render(w http.ResponseWriter, name string, data any) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-src 'self'; img-src 'self'")
	if err := pages.ExecuteTemplate(w, name, data); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
	}
}

func (c *Catcher) withMail(show func(http.ResponseWriter, *http.Request, Mail)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		n, err := strconv.Atoi(r.PathValue("n"))
		mails := c.Mails()
		at := slices.IndexFunc(mails, func(m Mail) bool { return m.N == n })
		if err != nil || at < 0 {
			http.Error(w, "there is no such mail", http.StatusNotFound)
			return
		}
		show(w, r, mails[at])
	}
}

func showMail(w http.ResponseWriter, _ *http.Request, m Mail) { render(w, "mail", m) }

func showSource(w http.ResponseWriter, _ *http.Request, m Mail) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write(m.Raw)
}

var cid = regexp.MustCompile(`cid:([^"'\s)>]+)`)

// showHTML gives the HTML part as its own document that may run nothing and load
// nothing but the mail's own pictures. Its links open in a new tab.
func showHTML(w http.ResponseWriter, r *http.Request, m Mail) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data: http://"+r.Host+
		"; sandbox allow-popups allow-popups-to-escape-sandbox")
	html := cid.ReplaceAllStringFunc(m.HTML, func(s string) string {
		for i, p := range m.Parts {
			if p.CID != "" && "cid:"+p.CID == s {
				return "parts/" + strconv.Itoa(i)
			}
		}
		return s
	})
	_, _ = w.Write([]byte(`<base target="_blank">` + html))
}

func showPart(w http.ResponseWriter, r *http.Request, m Mail) {
	i, err := strconv.Atoi(r.PathValue("i"))
	if err != nil || i < 0 || i >= len(m.Parts) {
		http.Error(w, "there is no such part", http.StatusNotFound)
		return
	}
	p := m.Parts[i]
	disposition := "attachment"
	if p.ContentType == "image/png" || p.ContentType == "image/jpeg" {
		disposition = "inline"
	}
	w.Header().Set("Content-Type", p.ContentType)
	w.Header().Set("Content-Security-Policy", "default-src 'none'; sandbox")
	w.Header().Set("Content-Disposition", disposition)
	_, _ = w.Write(p.Bytes)
}

var address = regexp.MustCompile(`https?://[^\s<>"]*[^\s<>".,;:!?)]`)

// linked escapes a text and makes its addresses links.
func linked(text string) template.HTML {
	var b strings.Builder
	at := 0
	for _, m := range address.FindAllStringIndex(text, -1) {
		url := template.HTMLEscapeString(text[m[0]:m[1]])
		b.WriteString(template.HTMLEscapeString(text[at:m[0]]) + `<a href="` + url + `" rel="noreferrer">` + url + `</a>`)
		at = m[1]
	}
	b.WriteString(template.HTMLEscapeString(text[at:]))
	return template.HTML(b.String())
}
