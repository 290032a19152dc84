package inbound

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/reply"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
)

// person is a recipient with that number; on several farms it is several.
type person struct {
	to    farm.Recipient
	owner farm.Farm
	zone  *time.Location // of the farm
}

// asked is a bed that a message asked about, with the latest notice of it there.
type asked struct {
	person  person
	message int64
	sent    time.Time
	notice  store.Notice
	facts   notice.Facts
	bed     farm.Bed
}

func (a asked) standing() bool { return !a.bed.ClearedAt.Known() }

// zone is that in which the person was asked.
func (a asked) zone() *time.Location { return farm.ZoneTold(a.facts.Zone) }

// turn is one reply being carried out.
type turn struct {
	*Box
	w      store.Writer
	reply  reply.Received
	now    time.Time
	people []person
	asked  []asked // the newest message first, each bed once
}

// askedFor is how long a message can be answered by text; own default, longer
// than a lead and short enough that people still know what they were asked.
const askedFor = 7 * 24 * time.Hour

// gather finds who has written, and what they were asked of late.
func (t *turn) gather(ctx context.Context) error {
	recipients, err := t.w.RecipientsByPhone(ctx, t.reply.From)
	if err != nil {
		return err
	}
	for _, r := range recipients {
		if r.RemovedAt.Known() {
			continue
		}
		owner, err := t.w.Farm(ctx, r.FarmID)
		if err != nil {
			return err
		}
		zone, err := store.ZoneOf(ctx, t.w, owner)
		if err != nil {
			return err
		}
		t.people = append(t.people, person{r, owner, zone})
	}
	if len(t.people) == 0 {
		t.Log.InfoContext(ctx, "reply by text from a number that nobody here has")
	}
	for _, p := range t.people {
		if err := t.messages(ctx, p); err != nil {
			return err
		}
	}
	slices.SortStableFunc(t.asked, func(a, b asked) int {
		return cmp.Or(b.sent.Compare(a.sent), cmp.Compare(b.message, a.message))
	})
	t.eachBedOnce()
	return nil
}

func (t *turn) eachBedOnce() {
	seen := map[int64]bool{}
	t.asked = slices.DeleteFunc(t.asked, func(a asked) bool {
		again := seen[a.bed.ID]
		seen[a.bed.ID] = true
		return again
	})
}

// messagesAtOnce and messagesLooked bound the search in a farm's messages.
const (
	messagesAtOnce = 200
	messagesLooked = 4000
)

// messages finds what a person was sent by text within the time.
func (t *turn) messages(ctx context.Context, p person) error {
	page := store.Page{Limit: messagesAtOnce}
	for looked := 0; looked < messagesLooked; looked += messagesAtOnce {
		list, err := t.w.Messages(ctx, p.owner.ID, page)
		if err != nil {
			return err
		}
		for _, m := range list {
			page.After = m.ID
			sent, ok := m.SentAt.Get()
			if m.RecipientID != p.to.ID || m.Channel != store.SMS || m.State != store.Sent || !ok || t.now.Sub(sent) > askedFor {
				continue
			}
			if err := t.message(ctx, p, m, sent); err != nil {
				return err
			}
		}
		if len(list) < messagesAtOnce || t.now.Sub(list[len(list)-1].CreatedAt) > 2*askedFor {
			return nil
		}
	}
	return nil
}

// message adds the beds of one message; of two notices about one the later counts.
func (t *turn) message(ctx context.Context, p person, m store.Message, sent time.Time) error {
	var beds []asked
	seen := map[int64]bool{}
	for _, id := range slices.Backward(m.NoticeIDs) {
		n, err := t.w.Notice(ctx, m.FarmID, id)
		if err != nil {
			return fmt.Errorf("notice %d: %w", id, err)
		}
		if n.BedID == 0 || n.Kind == notice.StandDown || seen[n.BedID] {
			continue
		}
		seen[n.BedID] = true
		a := asked{person: p, message: m.ID, sent: sent, notice: n}
		if err := json.Unmarshal(n.Facts, &a.facts); err != nil {
			return fmt.Errorf("facts of notice %d: %w", id, err)
		}
		if a.bed, err = t.w.Bed(ctx, m.FarmID, n.BedID); errors.Is(err, store.ErrNotFound) {
			continue
		} else if err != nil {
			return err
		}
		beds = append(beds, a)
	}
	slices.Reverse(beds)
	t.asked = append(t.asked, beds...)
	return nil
}

// latest are the beds of the newest message.
func (t *turn) latest() []asked {
	n := slices.IndexFunc(t.asked, func(a asked) bool { return a.message != t.asked[0].message })
	if n < 0 {
		return t.asked
	}
	return t.asked[:n]
}

// reader is whom the answer is written for: who was asked last, else the first
// with that number.
func (t *turn) reader() person {
	if len(t.asked) > 0 {
		return t.asked[0].person
	}
	return t.people[0]
}

func (t *turn) speaker(p person, zone *time.Location) phrase.Speaker {
	s := deliver.SpeakerFor(t.Phrases, p.to, p.owner, zone)
	s.Plain = true
	return s
}

// farms are the names of the farms, each once.
func (t *turn) farms() string {
	var names []string
	for _, p := range t.people {
		if !slices.Contains(names, p.owner.Name) {
			names = append(names, p.owner.Name)
		}
	}
	return strings.Join(names, ", ")
}

// act does what the reply says.
func (t *turn) act(ctx context.Context) (words, error) {
	s := t.speaker(t.reader(), t.reader().zone)
	names := make([]string, len(t.asked))
	for i, a := range t.asked {
		names[i] = a.bed.Name
	}
	m := t.Words.Parse(t.reply.Text, s.Units, names)
	t.Log.InfoContext(ctx, "reply by text", "word", string(m.Word), "beds", len(m.Beds), "farms", len(t.people))
	switch m.Word {
	case reply.Stop:
		return t.stop(ctx)
	case reply.Start:
		return t.start(ctx)
	case reply.Help:
		return t.say("help", phrase.Args{"farms": t.farms(), "mass": exampleMass(s.Units), "url": t.PublicURL}), nil
	case reply.Unknown:
		return t.unclear(ctx)
	}
	if t.muted() {
		_, err := t.answer(ctx, m)
		return nil, err // who has sent STOP gets no text about it
	}
	return t.answer(ctx, m)
}

// muted: all with that number have stopped texts.
func (t *turn) muted() bool {
	return !slices.ContainsFunc(t.people, func(p person) bool { return !p.to.MutedSMS })
}

// failed is what is said when the commands refused what was understood.
func (t *turn) failed(context.Context) (words, error) { return t.say("failed", nil), nil }
