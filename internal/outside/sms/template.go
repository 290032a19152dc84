package sms

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"text/template"
)

// fields are what a template may name.
type fields struct{ To, Text, Key, From string }

var functions = template.FuncMap{
	"json": func(s string) (string, error) {
		b, err := json.Marshal(s)
		return string(b), err
	},
	"form":   url.QueryEscape,
	"query":  func(s string) string { return strings.ReplaceAll(url.QueryEscape(s), "+", "%20") },
	"digits": func(s string) string { return strings.TrimPrefix(s, "+") },
	"xml": func(s string) (string, error) {
		var b strings.Builder
		err := xml.EscapeText(&b, []byte(s))
		return b.String(), err
	},
}

// request is a rendered call of the gateway.
type request struct {
	url, body string
	headers   http.Header
}

// form holds the parsed templates.
type form struct {
	url, body *template.Template
	headers   map[string]*template.Template
}

func parseForm(s Settings) (form, error) {
	f := form{headers: map[string]*template.Template{}}
	var err error
	if f.url, err = parseTemplate("sms url", s.URL); err != nil {
		return f, err
	}
	if f.body, err = parseTemplate("sms body", s.Body); err != nil {
		return f, err
	}
	for name, value := range s.Headers {
		if !token(name) {
			return f, fmt.Errorf("sms headers %q: is no header name", name)
		}
		if f.headers[name], err = parseTemplate("sms headers "+name, value); err != nil {
			return f, err
		}
	}
	return f, nil
}

func parseTemplate(name, text string) (*template.Template, error) {
	t, err := template.New(name).Funcs(functions).Parse(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; known are {{.To}} {{.Text}} {{.Key}} {{.From}} and the functions json, form, query, xml, digits", name, plain(err))
	}
	return t, nil
}

// plain drops the package's own prefix.
func plain(err error) error { return fmt.Errorf("%s", strings.TrimPrefix(err.Error(), "template: ")) }

// token tells whether a string is a header name (RFC 9110, 5.6.2).
func token(s string) bool {
	const signs = "!#$%&'*+-.^_`|~"
	for _, r := range s {
		letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9'
		if !letter && !strings.ContainsRune(signs, r) {
			return false
		}
	}
	return s != ""
}

func (f form) render(v fields) (request, error) {
	r := request{headers: http.Header{}}
	var err error
	if r.url, err = execute(f.url, v); err != nil {
		return r, err
	}
	if r.body, err = execute(f.body, v); err != nil {
		return r, err
	}
	for name, t := range f.headers {
		value, err := execute(t, v)
		if err != nil {
			return r, err
		}
		if strings.ContainsFunc(value, func(c rune) bool { return c < ' ' && c != '\t' || c == 0x7F }) {
			return r, fmt.Errorf("sms headers %s: the value would hold a line break; escape it with {{query …}}", name)
		}
		r.headers.Set(name, value)
	}
	r.describe(v.Key)
	return r, nil
}

func execute(t *template.Template, v fields) (string, error) {
	var b bytes.Buffer
	if err := t.Execute(&limited{w: &b, left: 64 << 10}, v); err != nil {
		return "", fmt.Errorf("%s: %w; known are {{.To}} {{.Text}} {{.Key}} {{.From}}", t.Name(), plain(err))
	}
	return b.String(), nil
}

// describe adds the headers that every call has, unless the settings name them.
func (r request) describe(key string) {
	if r.headers.Get("Idempotency-Key") == "" {
		r.headers.Set("Idempotency-Key", key)
	}
	if r.body == "" || r.headers.Get("Content-Type") != "" {
		return
	}
	kind := "application/x-www-form-urlencoded"
	if strings.HasPrefix(strings.TrimSpace(r.body), "{") || strings.HasPrefix(strings.TrimSpace(r.body), "[") {
		kind = "application/json"
	}
	r.headers.Set("Content-Type", kind)
}

// limited refuses output without end.
type limited struct {
	w    io.Writer
	left int
}

func (l *limited) Write(p []byte) (int, error) {
	if l.left -= len(p); l.left < 0 {
		return 0, fmt.Errorf("the result is longer than 64 KiB")
	}
	return l.w.Write(p)
}
