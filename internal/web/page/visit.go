package page

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// visit is one request with all that is known of who asks.
type visit struct {
	*Site
	w       http.ResponseWriter
	r       *http.Request
	now     time.Time
	session store.Session // zero: signed out
	farm    farm.Farm
	who     farm.Recipient // zero: signed in by token
	speaker phrase.Speaker
}

func (v *visit) ctx() context.Context { return v.r.Context() }

func (v *visit) books() store.Reader { return v.Commands.Books() }

func (v *visit) signedIn() bool { return v.session.Hash != "" }

// mayChange tells whether the visitor may do more than look.
func (v *visit) mayChange() bool { return v.signedIn() && v.session.Scope == farm.ScopeWrite }

func (v *visit) say(key string, pairs ...string) string {
	args := phrase.Args{}
	for i := 0; i+1 < len(pairs); i += 2 {
		args[pairs[i]] = pairs[i+1]
	}
	return v.speaker.Say(key, args)
}

// at speaks in the zone of a place.
func (v *visit) at(zone *time.Location) phrase.Speaker {
	s := v.speaker
	s.Zone = zone
	return s
}

// id is the number in the path; one that is none names no entry.
func (v *visit) id() (int64, error) {
	id, err := strconv.ParseInt(chi.URLParam(v.r, "id"), 10, 64)
	if err != nil || id <= 0 {
		return 0, store.ErrNotFound
	}
	return id, nil
}

// strange is a visitor whom nobody knows: language by the browser.
func (s *Site) strange(w http.ResponseWriter, r *http.Request) *visit {
	v := &visit{Site: s, w: w, r: r, now: s.Commands.Now().UTC().Truncate(time.Second)}
	v.speaker = phrase.Speaker{Book: s.Phrases, Language: s.languageOf(r), Units: unit.Metric, Zone: time.UTC}
	return v
}

// languageOf takes the first language of the browser that there are phrases in.
func (s *Site) languageOf(r *http.Request) string {
	there := s.Phrases.Languages()
	for part := range strings.SplitSeq(r.Header.Get("Accept-Language"), ",") {
		tag, _, _ := strings.Cut(strings.TrimSpace(part), ";")
		base, _, _ := strings.Cut(strings.ToLower(tag), "-")
		for _, l := range there {
			if l == base {
				return l
			}
		}
	}
	return phrase.Fallback
}

// greet takes over a farm and, where one is known, the person.
func (v *visit) greet(owner farm.Farm, who farm.Recipient) error {
	zone, err := store.ZoneOf(v.ctx(), v.books(), owner)
	v.farm, v.who = owner, who
	v.speaker = deliver.SpeakerFor(v.Phrases, who, owner, zone)
	return err
}
