package calendar

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/httprate"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
)

// Feed serves the calendars of all farms.
type Feed struct {
	Book      Book
	Phrases   *phrase.Book
	PublicURL string
	Now       func() time.Time
	Log       *slog.Logger
	PerMinute int // requests of one address; 0: DefaultPerMinute
}

// DefaultPerMinute: large readers fetch many farms' calendars from few
// addresses; a guesser needs some 2¹⁶⁰ tries. Own default.
const DefaultPerMinute = 240

// leastSecret refuses what was never a secret before the book is asked.
const leastSecret = 16

// Path is where a farm's calendar stands; whoever has the address can read it.
func Path(secret string) string { return "/calendar/" + secret + ".ics" }

// Mount puts the calendars on a router.
func (f Feed) Mount(r chi.Router) {
	limit := httprate.NewRateLimiter(cmp.Or(f.PerMinute, DefaultPerMinute), time.Minute)
	serve := func(w http.ResponseWriter, r *http.Request) {
		if !limit.RespondOnLimit(w, r, host(r.RemoteAddr)) {
			f.serve(w, r)
		}
	}
	r.Get("/calendar/{file}", serve)
	r.Head("/calendar/{file}", serve)
}

func host(address string) string {
	if h, _, err := net.SplitHostPort(address); err == nil {
		return h
	}
	return address
}

func (f Feed) serve(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Robots-Tag", "noindex")
	h.Set("Referrer-Policy", "no-referrer")
	body, err := f.write(r.Context(), chi.URLParam(r, "file"))
	switch {
	case errors.Is(err, store.ErrNotFound):
		plain(w, http.StatusNotFound, "There is no calendar at this address.")
	case err != nil:
		f.Log.ErrorContext(r.Context(), "calendar", "error", err)
		w.Header().Set("Retry-After", "300")
		plain(w, http.StatusServiceUnavailable, "The calendar cannot be read just now.")
	default:
		sum := sha256.Sum256(body)
		h.Set("ETag", `"`+hex.EncodeToString(sum[:12])+`"`)
		h.Set("Cache-Control", "private, no-cache")
		h.Set("Content-Type", "text/calendar; charset=utf-8")
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
	}
}

func plain(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write([]byte(text + "\n")) // who asked has gone: nobody is left to tell
}

func (f Feed) write(ctx context.Context, file string) ([]byte, error) {
	secret, ok := strings.CutSuffix(file, ".ics")
	if !ok || len(secret) < leastSecret {
		return nil, store.ErrNotFound
	}
	owner, err := f.Book.FarmByCalendar(ctx, secret)
	if err != nil {
		return nil, err
	}
	return f.For(ctx, owner)
}

// For is the calendar of one farm, now.
func (f Feed) For(ctx context.Context, owner farm.Farm) ([]byte, error) {
	d := &scribe{book: f.Book, owner: owner, phrase: f.Phrases, public: strings.TrimSuffix(f.PublicURL, "/"), now: f.Now()}
	events, err := d.events(ctx)
	if err != nil {
		return nil, err
	}
	say := func(key string) string { return f.Phrases.Say(owner.Language, key, phrase.Args{"farm": owner.Name}) }
	return Write(Head{Name: say("calendar.name"), About: say("calendar.late"), Language: owner.Language}, events), nil
}
