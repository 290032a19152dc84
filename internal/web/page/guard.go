package page

import (
	"crypto/subtle"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
)

// maxForm bounds what a form may send. Own default: far more than any holds.
const maxForm = 256 << 10

// policy lets a page load its own style sheet and mark and nothing else: no
// script at all, no frame around it, forms to ourselves only.
const policy = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// guarded sets what every answer carries.
func (s *Site) guarded(next http.Handler) http.Handler {
	secure := strings.HasPrefix(s.PublicURL, "https://")
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		r.Body = http.MaxBytesReader(w, r.Body, mostOf(r))
		next.ServeHTTP(w, r)
	})
}

// mostOf is how much a request may send: a history of weather is larger than
// any other form.
func mostOf(r *http.Request) int64 {
	if r.URL.Path == seasonForm {
		return maxHistory + maxForm
	}
	return maxForm
}

// handler answers a visit; its error becomes a page in one place.
type handler func(*visit) error

// open is for everybody.
func (s *Site) open(h handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := s.strange(w, r)
		v.settle(v.recognise(), h)
	}
}

// signed is for people of a farm.
func (s *Site) signed(h handler) http.HandlerFunc {
	return s.open(func(v *visit) error {
		if !v.signedIn() {
			return errSignedOut
		}
		return h(v)
	})
}

// change is for those who may change things; a POST must come from our own form.
func (s *Site) change(h handler) http.HandlerFunc {
	return s.signed(func(v *visit) error {
		if !v.mayChange() {
			return errReadOnly
		}
		if err := v.ownForm(); err != nil {
			return err
		}
		return h(v)
	})
}

// ownForm refuses a POST that does not carry the session's secret.
func (v *visit) ownForm() error {
	if v.r.Method != http.MethodPost {
		return nil
	}
	if err := v.readForm(); err != nil {
		return err
	}
	if !same(v.r.PostForm.Get("csrf"), v.session.CSRF) {
		return errForeignForm
	}
	return nil
}

func (v *visit) readForm() error {
	if err := v.r.ParseForm(); err != nil {
		return errBadForm
	}
	return nil
}

// same compares secrets in a time that does not tell where they differ; an
// empty one is the same as nothing.
func same(a, b string) bool {
	return a != "" && subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1
}

func (v *visit) settle(err error, h handler) {
	if err == nil {
		err = h(v)
	}
	if err != nil {
		v.fail(err)
	}
}

// logged writes a line a request: the route's pattern, never the address, which
// may hold a secret.
func (s *Site) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began, seen := time.Now(), middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(seen, r)
		s.Log.InfoContext(r.Context(), "page", "method", r.Method, "route", chi.RouteContext(r.Context()).RoutePattern(),
			"status", seen.Status(), "bytes", seen.BytesWritten(), "took", time.Since(began).Round(time.Microsecond))
	})
}

// rescued turns a panic into a plain page and a line in the log.
func (s *Site) rescued(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if p := recover(); p != nil {
				if p == http.ErrAbortHandler {
					panic(p)
				}
				s.Log.ErrorContext(r.Context(), "page failed", "panic", p)
				s.strange(w, r).fail(errPanic)
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// writes a page's address allows: GET shows the form, POST acts.
func form(s *Site, r chi.Router, path string, show, act handler) {
	r.Get(path, s.change(show))
	r.Post(path, s.change(act))
}
