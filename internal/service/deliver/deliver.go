// Package deliver carries messages to people. Towards the server it delivers at
// least once: every try of a message has the same key, of which Message-ID and
// Idempotency-Key are made, so that a repeat can be told.
package deliver

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/link"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
)

// Envelope is a message ready to be handed over.
type Envelope struct {
	Key      string
	To       farm.Recipient
	Letter   notice.Letter
	Thread   []string // stable names of the events it speaks of
	Pictures []Picture
	Links    notice.Links
	At       time.Time
}

// Picture is a drawing shown in a mail.
type Picture struct {
	CID   string
	PNG   []byte
	Title string
}

// Sender hands one envelope to a server. retry tells whether another try makes
// sense.
type Sender interface {
	Send(ctx context.Context, e Envelope) (retry bool, err error)
}

// Artist draws the picture of a notice; nil bytes: none.
type Artist interface {
	Picture(ctx context.Context, n store.Notice, s phrase.Speaker) ([]byte, error)
}

// Annex gives what is to stand under the notices of a mail, empty: nothing.
type Annex func(ctx context.Context, farmID int64, facts []notice.Facts, s phrase.Speaker) (string, error)

// Carrier delivers messages.
type Carrier struct {
	Store     store.Store
	Senders   map[string]Sender // by channel
	Book      *phrase.Book
	Signer    link.Signer
	PublicURL string
	Replies   bool   // texts can be answered by text
	Artist    Artist // may be nil
	Annex     Annex  // may be nil
	Log       *slog.Logger
	Now       func() time.Time
	Told      func(ctx context.Context, m store.Message, e Envelope) // after a delivery; may be nil

	busy sync.Map // IDs that this process is trying: where the clock runs fast, a lease is soon over
}

const (
	tryWithin = 50 * time.Second // one try, from its letter to the server's answer
	lease     = time.Minute      // a try that has not ended by then may be taken over
	tellAfter = 4                // failed tries after which others are told
	giveUp    = 24 * time.Hour
)

// backoff by failed tries.
var backoff = []time.Duration{30 * time.Second, 2 * time.Minute, 10 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour}

// Message delivers one message if it is still to be delivered. An error means
// that the book could not be read or written; a server's refusal is recorded
// and tried again later.
func (c *Carrier) Message(ctx context.Context, id int64) error {
	if _, busy := c.busy.LoadOrStore(id, true); busy {
		return nil
	}
	defer c.busy.Delete(id)
	m, ok, err := c.claim(ctx, id)
	if err != nil || !ok {
		return err
	}
	// What came of a try is written down even when its time is over.
	written := context.WithoutCancel(ctx)
	ctx, cancel := context.WithTimeout(ctx, tryWithin)
	defer cancel()
	e, wanted, err := c.envelope(ctx, m)
	if err != nil {
		return c.failed(written, m, true, err)
	}
	if !wanted {
		m.State = store.Dropped
		return c.mark(written, m)
	}
	sender, ok := c.Senders[m.Channel]
	if !ok {
		return c.failed(written, m, false, fmt.Errorf("no %s server is set up", m.Channel))
	}
	retry, err := sender.Send(ctx, e)
	if err != nil {
		return c.failed(written, m, retry, err)
	}
	m.State, m.LastError, m.SentAt = store.Sent, "", some(c.Now())
	if err := c.mark(written, m); err != nil {
		return err
	}
	if c.Told != nil {
		c.Told(ctx, m, e)
	}
	return nil
}

// claim takes a try: one process only gets it, for the time of the lease.
func (c *Carrier) claim(ctx context.Context, id int64) (store.Message, bool, error) {
	var m store.Message
	claimed := false
	err := c.Store.Write(ctx, func(tx store.Writer) error {
		claimed = false
		var err error
		if m, err = tx.Message(ctx, id); err != nil {
			return err
		}
		if m.State != store.Queued || m.NotBefore.After(c.Now()) {
			return nil
		}
		m.Attempts++
		if claimed, err = tx.UseOnce(ctx, "try:"+m.Key+":"+strconv.Itoa(m.Attempts), c.Now().Add(giveUp)); err != nil || !claimed {
			return err
		}
		m.NotBefore, m.LastError = c.Now().Add(lease), ""
		return tx.MarkMessage(ctx, m)
	})
	if errors.Is(err, store.ErrNotFound) {
		return m, false, nil
	}
	if err != nil {
		return m, false, fmt.Errorf("claim message %d: %w", id, err)
	}
	return m, claimed, nil
}

func (c *Carrier) mark(ctx context.Context, m store.Message) error {
	err := c.Store.Write(ctx, func(tx store.Writer) error { return tx.MarkMessage(ctx, m) })
	if err != nil {
		return fmt.Errorf("mark message %d: %w", m.ID, err)
	}
	return nil
}

// failed records a refusal, sets the next try, and tells the others when it has
// gone on for too long.
func (c *Carrier) failed(ctx context.Context, m store.Message, retry bool, cause error) error {
	m.LastError = cause.Error()
	c.Log.Warn("message not delivered", "message", m.ID, "channel", m.Channel, "try", m.Attempts, "retry", retry, "error", cause)
	final := !retry || c.Now().Sub(m.CreatedAt) > giveUp
	if final {
		m.State = store.GivenUp
	} else {
		m.NotBefore = c.Now().Add(backoff[min(m.Attempts-1, len(backoff)-1)])
	}
	tell := !m.Test && (final && m.Attempts < tellAfter || m.Attempts == tellAfter)
	err := c.Store.Write(ctx, func(tx store.Writer) error {
		if err := tx.MarkMessage(ctx, m); err != nil {
			return err
		}
		if !final {
			if err := tx.Enqueue(ctx, store.Job{MessageID: m.ID, At: m.NotBefore}); err != nil {
				return err
			}
		}
		if tell {
			return c.tellOthers(ctx, tx, m)
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("record failure of message %d: %w", m.ID, err)
	}
	return nil
}

// envelope writes the message; wanted is false when nothing in it is to be said
// any more.
func (c *Carrier) envelope(ctx context.Context, m store.Message) (Envelope, bool, error) {
	to, err := c.Store.Recipient(ctx, m.FarmID, m.RecipientID)
	if err != nil {
		return Envelope{}, false, fmt.Errorf("recipient %d: %w", m.RecipientID, err)
	}
	owner, err := c.Store.Farm(ctx, m.FarmID)
	if err != nil {
		return Envelope{}, false, fmt.Errorf("farm %d: %w", m.FarmID, err)
	}
	if to.RemovedAt.Known() {
		return Envelope{}, false, nil
	}
	e := Envelope{Key: m.Key, To: to, At: m.CreatedAt}
	s := SpeakerFor(c.Book, to, owner, time.UTC)
	if m.Test {
		e.Letter, err = c.testLetter(s, owner, to)
		return e, true, err
	}
	return c.letter(ctx, m, e, s)
}

// SpeakerFor speaks to a recipient in their language and units, else the farm's.
func SpeakerFor(book *phrase.Book, to farm.Recipient, owner farm.Farm, zone *time.Location) phrase.Speaker {
	s := phrase.Speaker{Book: book, Language: to.Language, Units: to.Units, Zone: zone}
	if s.Language == "" {
		s.Language = owner.Language
	}
	if s.Units == "" {
		s.Units = owner.Units
	}
	return s
}

func (c *Carrier) letter(ctx context.Context, m store.Message, e Envelope, s phrase.Speaker) (Envelope, bool, error) {
	var facts []notice.Facts
	var pictures []string
	for _, id := range m.NoticeIDs {
		n, err := c.Store.Notice(ctx, m.FarmID, id)
		if err != nil {
			return e, false, fmt.Errorf("notice %d: %w", id, err)
		}
		done, err := c.settled(ctx, n, e.To, m)
		if err != nil {
			return e, false, err
		}
		if done {
			continue
		}
		var f notice.Facts
		if err := json.Unmarshal(n.Facts, &f); err != nil {
			return e, false, fmt.Errorf("facts of notice %d: %w", id, err)
		}
		s.Zone = farm.ZoneTold(f.Zone)
		facts = append(facts, f)
		pictures = append(pictures, c.draw(ctx, &e, n, s, m.Channel))
		e.Thread = append(e.Thread, notice.Thread(n.Subject, n.Night))
	}
	if len(facts) == 0 {
		return e, false, nil
	}
	e.Links = c.links(m, facts)
	var err error
	e.Letter, err = notice.Compose(s, facts, e.Links, c.Now(), pictures, c.annex(ctx, m, facts, s)...)
	return e, true, err
}

// annex of a mail. Failing is no reason to keep the notices back.
func (c *Carrier) annex(ctx context.Context, m store.Message, facts []notice.Facts, s phrase.Speaker) []string {
	if c.Annex == nil || m.Channel != store.Email {
		return nil
	}
	text, err := c.Annex(ctx, m.FarmID, facts, s)
	if err != nil {
		c.Log.Warn("no annex", "message", m.ID, "error", err)
	}
	if err != nil || text == "" {
		return nil
	}
	return []string{text}
}

// settled: nobody needs to act on it any more, or the reader has meanwhile
// refused to get it.
func (c *Carrier) settled(ctx context.Context, n store.Notice, to farm.Recipient, m store.Message) (bool, error) {
	if m.Channel == store.SMS && to.MutedSMS || m.Channel == store.Email && slices.Contains(to.MutedMail, n.Kind) {
		return true, nil
	}
	if n.Kind != notice.HarvestBefore && n.Kind != notice.Moved && n.Kind != notice.LastCall {
		return false, nil
	}
	if n.Answer == farm.Harvested || n.Answer == farm.LeaveIt {
		return true, nil
	}
	bed, err := c.Store.Bed(ctx, n.FarmID, n.BedID)
	if err != nil {
		return false, fmt.Errorf("bed %d of notice %d: %w", n.BedID, n.ID, err)
	}
	return bed.ClearedAt.Known(), nil
}

func (c *Carrier) draw(ctx context.Context, e *Envelope, n store.Notice, s phrase.Speaker, channel string) string {
	if c.Artist == nil || channel != store.Email || n.BedID == 0 {
		return ""
	}
	png, err := c.Artist.Picture(ctx, n, s)
	if err != nil {
		c.Log.Warn("no picture", "notice", n.ID, "error", err)
		return ""
	}
	if len(png) == 0 {
		return ""
	}
	cid := fmt.Sprintf("bed-%d-%d", n.BedID, n.ID)
	e.Pictures = append(e.Pictures, Picture{CID: cid, PNG: png, Title: fmt.Sprintf("bed-%d.png", n.BedID)})
	return cid
}

// Purposes of signed links.
const (
	AnswerLink      = "answer"
	UnsubscribeLink = "unsubscribe"
)

// answerFor is how long a link in a message may be answered.
const answerFor = 60 * 24 * time.Hour

func (c *Carrier) links(m store.Message, facts []notice.Facts) notice.Links {
	base := strings.TrimSuffix(c.PublicURL, "/")
	id := strconv.FormatInt(m.ID, 36)
	l := notice.Links{Answer: base + "/a/" + c.Signer.Token(AnswerLink, m.CreatedAt.Add(answerFor), id), Replies: c.Replies}
	if m.Channel == store.Email {
		l.Unsubscribe = base + "/u/" + c.Signer.Token(UnsubscribeLink, time.Time{}, strconv.FormatInt(m.FarmID, 36), strconv.FormatInt(m.RecipientID, 36), facts[0].Kind)
	}
	return l
}

func (c *Carrier) testLetter(s phrase.Speaker, owner farm.Farm, to farm.Recipient) (notice.Letter, error) {
	return notice.ComposeTest(s, owner.Name, to.Name)
}
