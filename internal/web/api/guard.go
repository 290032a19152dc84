package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/go-chi/httprate"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

type callerKey struct{}

// caller is who asks. It rides in the request's context, set by authenticated.
func caller(ctx context.Context) farm.Token {
	t, _ := ctx.Value(callerKey{}).(farm.Token)
	return t
}

// authenticated lets nobody by without a token that may do what is asked.
func (s *service) authenticated() func(http.Handler) http.Handler {
	strangers := httprate.NewRateLimiter(s.PerMinute, time.Minute, httprate.WithLimitHandler(tooMany))
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			token, refusal := s.tokenOf(r)
			switch {
			case refusal != nil && refusal.Status == http.StatusUnauthorized && strangers.RespondOnLimit(w, r, hostOf(r.RemoteAddr)):
			case refusal != nil:
				if refusal.Status == http.StatusUnauthorized {
					w.Header().Set("WWW-Authenticate", `Bearer realm="winterstand"`)
				}
				answer(w, refusal)
			default:
				note(r, token.FarmID)
				next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), callerKey{}, token)))
			}
		})
	}
}

// tokenOf finds the token of a request, or says why it cannot go on.
func (s *service) tokenOf(r *http.Request) (farm.Token, *Problem) {
	scheme, secret, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	if !strings.EqualFold(scheme, "bearer") || secret == "" {
		return farm.Token{}, problem(http.StatusUnauthorized, because("no_token"))
	}
	token, err := s.Commands.Authenticate(r.Context(), strings.TrimSpace(secret))
	switch {
	case errors.Is(err, store.ErrNotFound):
		return token, problem(http.StatusUnauthorized, because("unknown_token"))
	case err != nil:
		s.Log.ErrorContext(r.Context(), "look up token", "error", err)
		return token, problem(http.StatusServiceUnavailable, because("tokens_unseen"))
	case token.Scope != farm.ScopeWrite && changes(r):
		return token, problem(http.StatusForbidden, because("read_only"))
	}
	return token, nil
}

// changes tells whether a request could change anything; a what-if is a
// question that happens to need a body.
func changes(r *http.Request) bool {
	read := r.Method == http.MethodGet || r.Method == http.MethodHead
	return !read && !strings.HasSuffix(r.URL.Path, "/what-if")
}

func (s *service) limitToken() func(http.Handler) http.Handler {
	return httprate.LimitBy(s.PerMinute, time.Minute, func(r *http.Request) (string, error) {
		return caller(r.Context()).Hash, nil
	}, httprate.WithLimitHandler(tooMany))
}

func hostOf(address string) string {
	if i := strings.LastIndexByte(address, ':'); i > 0 {
		return address[:i]
	}
	return address
}

func tooMany(w http.ResponseWriter, _ *http.Request) {
	answer(w, problem(http.StatusTooManyRequests, because("too_many")))
}

// answer writes a problem outside of huma's routes.
func answer(w http.ResponseWriter, p *Problem) {
	w.Header().Set("Content-Type", p.ContentType(""))
	w.WriteHeader(p.Status)
	_ = json.NewEncoder(w).Encode(p) // the caller has gone: nobody is left to tell
}

// harmless keeps browsers from making anything else of an answer.
func harmless(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

type noteKey struct{}

// noted is what the log line of a request learns on the way.
type noted struct{ farmID int64 }

func note(r *http.Request, farmID int64) {
	if n, ok := r.Context().Value(noteKey{}).(*noted); ok {
		n.farmID = farmID
	}
}

// logged writes a line a request: the route's pattern, never the address as it
// was sent, which could hold a secret.
func (s *service) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n, began := &noted{}, time.Now()
		r = r.WithContext(context.WithValue(r.Context(), noteKey{}, n))
		seen := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(seen, r)
		s.Log.InfoContext(r.Context(), "request", "method", r.Method, "route", route(r), "status", strconv.Itoa(seen.Status()),
			"bytes", seen.BytesWritten(), "took", time.Since(began).Round(time.Microsecond), "farm", n.farmID)
	})
}

func route(r *http.Request) string {
	if c := chi.RouteContext(r.Context()); c != nil {
		if p := c.RoutePattern(); p != "" {
			return p
		}
	}
	return "unknown"
}

// rescued turns a panic into a plain answer and a line in the log.
func (s *service) rescued(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if p := recover(); p != nil {
				if p == http.ErrAbortHandler {
					panic(p)
				}
				s.Log.ErrorContext(r.Context(), "request failed", "route", route(r), "panic", p)
				answer(w, problem(http.StatusInternalServerError, because("broken")))
			}
		}()
		next.ServeHTTP(w, r)
	})
}
