// Package inbound takes what people text back: answers to the notices in the
// last message they got, STOP, START and HELP. Whatever it cannot understand in
// full it asks about; it never guesses.
package inbound

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/httprate"

	"winterstand/internal/message/phrase"
	"winterstand/internal/message/reply"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
)

// Path is where the gateway posts replies.
const Path = "/sms/inbound"

// Gate proves that a reply comes from the gateway, and reads it. Errors:
// reply.ErrNotSigned, reply.ErrNoReply.
type Gate interface {
	Read(r *http.Request, now time.Time) (reply.Received, error)
}

// Texter sends one text; key is the same on every try. retry tells whether
// another try makes sense.
type Texter interface {
	Text(ctx context.Context, to, text, key string) (retry bool, err error)
}

// Box takes replies. It may be used from many goroutines and by several
// processes on one book.
type Box struct {
	Commands  commands.Service
	Gate      Gate
	Texter    Texter // nil: nothing is texted back
	Phrases   *phrase.Book
	Words     reply.Vocabulary // of the phrases
	Channels  []string         // store.Email, store.SMS: what is set up
	PublicURL string
	Now       func() time.Time
	Log       *slog.Logger
	PerMinute int // posts of one address that are not the gateway's; 0: DefaultPerMinute
}

// DefaultPerMinute; own default.
const DefaultPerMinute = 30

// knownFor is how long a reply is remembered, so that a repeat does nothing:
// longer than any gateway repeats. Own default.
const knownFor = 8 * 24 * time.Hour

// Mount puts the box on a router.
func (b *Box) Mount(r chi.Router) {
	most := b.PerMinute
	if most <= 0 {
		most = DefaultPerMinute
	}
	strangers := httprate.NewRateLimiter(most, time.Minute)
	r.Post(Path, func(w http.ResponseWriter, r *http.Request) {
		got, err := b.Gate.Read(r, b.Now())
		switch {
		case errors.Is(err, reply.ErrNotSigned):
			if !strangers.RespondOnLimit(w, r, host(r.RemoteAddr)) {
				plain(w, http.StatusUnauthorized, "This is not signed as it should be.")
			}
		case err != nil:
			plain(w, http.StatusBadRequest, err.Error())
		default:
			b.receive(w, r, got)
		}
	})
}

func host(address string) string {
	if h, _, err := net.SplitHostPort(address); err == nil {
		return h
	}
	return address
}

// receive answers 200 when the reply is taken, also when it is a repeat or comes
// from nobody we know: the gateway need not try again.
func (b *Box) receive(w http.ResponseWriter, r *http.Request, got reply.Received) {
	key := keyOf(got, r.Header)
	if err := b.Take(r.Context(), got, key); err != nil {
		b.Log.ErrorContext(r.Context(), "reply by text", "error", err)
		w.Header().Set("Retry-After", "60")
		plain(w, http.StatusServiceUnavailable, "The reply cannot be noted just now.")
		return
	}
	plain(w, http.StatusOK, "Taken.")
}

func plain(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write([]byte(text + "\n")) // who asked has gone: nobody is left to tell
}

// keyOf is the same for a repeat: made of the gateway's own ID, or, where it
// gives none, of the signed moment and all that was said.
func keyOf(got reply.Received, h http.Header) string {
	what := "id\x00" + got.ID
	if got.ID == "" {
		what = "at\x00" + h.Get("X-Timestamp") + h.Get("X-Signature") + "\x00" + got.From + "\x00" + got.Text
	}
	sum := sha256.Sum256([]byte(what))
	return hex.EncodeToString(sum[:12])
}

// Take does what a reply says, once for a key, and texts back what it did.
func (b *Box) Take(ctx context.Context, got reply.Received, key string) error {
	err := b.take(ctx, got, key, (*turn).act)
	var wrong *commands.Invalid
	var refused *commands.Refused
	if errors.As(err, &wrong) || errors.As(err, &refused) {
		b.Log.InfoContext(ctx, "reply by text could not be noted", "reason", err)
		err = b.take(ctx, got, key, (*turn).failed)
	}
	if err != nil {
		return err
	}
	b.post(ctx, key)
	return nil
}

// take does everything in one transaction: a reply is noted whole or not at all.
func (b *Box) take(ctx context.Context, got reply.Received, key string, act func(*turn, context.Context) (words, error)) error {
	now := b.Now().UTC().Truncate(time.Second)
	err := b.Commands.Store.Write(ctx, func(w store.Writer) error {
		first, err := w.UseOnce(ctx, "text:"+key, now.Add(knownFor))
		if err != nil || !first {
			return err
		}
		t := &turn{Box: b, w: w, reply: got, now: now}
		if err := t.gather(ctx); err != nil || len(t.people) == 0 {
			return err
		}
		said, err := act(t, ctx)
		if err != nil || len(said) == 0 || b.Texter == nil {
			return err
		}
		return pack(ctx, w, key, parcel{To: got.From, Text: said.fit(), Until: now.Add(staleAfter)}, now)
	})
	if err != nil {
		return fmt.Errorf("take reply: %w", err)
	}
	return nil
}
