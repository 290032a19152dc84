package api

import (
	"context"
	"net/http"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Recipient is a person who is told.
type Recipient struct {
	ID        int64                 `json:"id"`
	Name      string                `json:"name"`
	Email     string                `json:"email,omitempty"`
	Phone     string                `json:"phone,omitempty" doc:"E.164"`
	Language  string                `json:"language"`
	Units     unit.System           `json:"units"`
	QuietFrom string                `json:"quiet_from,omitempty" doc:"Local clock time"`
	QuietTo   string                `json:"quiet_to,omitempty" doc:"Local clock time"`
	Kinds     []string              `json:"kinds" doc:"Kinds of notices wanted; empty: all"`
	MutedSMS  bool                  `json:"muted_sms" doc:"Has answered STOP"`
	MutedMail []string              `json:"muted_mail" doc:"Kinds unsubscribed from by mail"`
	CreatedAt time.Time             `json:"created_at"`
	RemovedAt unit.Maybe[time.Time] `json:"removed_at,omitzero"`
	Version   int64                 `json:"version"`
}

func recipientView(r farm.Recipient) Recipient {
	return Recipient{
		ID: r.ID, Name: r.Name, Email: r.Email, Phone: r.Phone, Language: r.Language, Units: r.Units,
		QuietFrom: r.QuietFrom, QuietTo: r.QuietTo, Kinds: full(r.Kinds), MutedSMS: r.MutedSMS, MutedMail: full(r.MutedMail),
		CreatedAt: r.CreatedAt.UTC(), RemovedAt: utc(r.RemovedAt), Version: r.Version,
	}
}

// NewRecipient is a recipient to be made.
type NewRecipient commands.RecipientInput

func (s *service) recipientRoutes() {
	handle(s, op(http.MethodGet, "/v1/recipients", "list-recipients", "recipients", "Who is told"), s.listRecipients)
	handle(s, op(http.MethodPost, "/v1/recipients", "add-recipient", "recipients", "Make a recipient"), s.addRecipient)
	handle(s, op(http.MethodGet, "/v1/recipients/{id}", "get-recipient", "recipients", "One recipient"), s.getRecipient)
	handle(s, op(http.MethodPatch, "/v1/recipients/{id}", "change-recipient", "recipients", "Change a recipient: members given are changed, null empties"), s.changeRecipient)
	handle(s, op(http.MethodDelete, "/v1/recipients/{id}", "remove-recipient", "recipients", "Tell this person nothing more"), s.removeRecipient)
	handle(s, op(http.MethodPost, "/v1/recipients/{id}/test", "test-recipient", "recipients", "Send a test message on every channel of the recipient"), s.testRecipient)
}

func (s *service) listRecipients(ctx context.Context, farmID int64, in *Paging) (*listed[Recipient], error) {
	rs, err := s.Commands.Store.Recipients(ctx, farmID, in.ask())
	if err != nil {
		return nil, err
	}
	return listOf(*in, "/v1/recipients", "", rs, func(r farm.Recipient) int64 { return r.ID }, recipientView), nil
}

func (s *service) addRecipient(ctx context.Context, farmID int64, in *post[NewRecipient]) (*made[Recipient], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/recipients", in.Body}, func(d commands.Service) (made[Recipient], error) {
		r, err := d.AddRecipient(ctx, farmID, commands.RecipientInput(in.Body))
		return created("/v1/recipients", r.ID, r.Version, recipientView(r)), err
	})
}

func (s *service) getRecipient(ctx context.Context, farmID int64, in *ByID) (*one[Recipient], error) {
	r, err := s.Commands.Store.Recipient(ctx, farmID, in.ID)
	return &one[Recipient]{etag(r.Version), recipientView(r)}, err
}

func (s *service) changeRecipient(ctx context.Context, farmID int64, in *changeByID[commands.RecipientInput]) (out *one[Recipient], err error) {
	err = change(in.IfMatch, func(seen commands.Seen) error {
		r, err := s.Commands.ChangeRecipient(ctx, farmID, in.ID, seen, in.Body)
		out = &one[Recipient]{etag(r.Version), recipientView(r)}
		return err
	})
	return out, err
}

func (s *service) removeRecipient(ctx context.Context, farmID int64, in *removeByID) (*nothing, error) {
	return &nothing{}, change(in.IfMatch, func(seen commands.Seen) error {
		return s.Commands.RemoveRecipient(ctx, farmID, in.ID, seen)
	})
}

// TestSent are the messages that a test queued.
type TestSent struct {
	Messages []TestMessage `json:"messages"`
}

// TestMessage is one of them.
type TestMessage struct {
	ID      int64  `json:"id"`
	Channel string `json:"channel" enum:"email,sms"`
	State   string `json:"state"`
}

type bareByID struct {
	ByID
	OnceKey
}

func (s *service) testRecipient(ctx context.Context, farmID int64, in *bareByID) (*made[TestSent], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/recipients/test", in.ID}, func(d commands.Service) (made[TestSent], error) {
		sent, err := d.SendTest(ctx, farmID, in.ID)
		return made[TestSent]{Status: http.StatusAccepted, Body: TestSent{testMessages(sent)}}, err
	})
}

func testMessages(sent []store.Message) []TestMessage {
	out := make([]TestMessage, len(sent))
	for i, m := range sent {
		out[i] = TestMessage{ID: m.ID, Channel: m.Channel, State: m.State}
	}
	return out
}
